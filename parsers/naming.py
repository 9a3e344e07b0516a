"""Blocks: by their names, letters as they are spoken, and the word for block with a number."""

import re

from parsers.farm_names import SPOKEN_LETTERS
from parsers.figures import Figures
from parsers.meanings import Item
from parsers.spelling import fold, is_latin

#: Letters that people put before the number of a block in any language.
BLOCK_LETTERS = frozenset({"b", "p", "l", "k"})

#: Block words that only mean number: a name may not stand behind them (`mi numero nuevo`).
NUMBER_WORDS = frozenset({"numero", "number", "nomor", "nombor", "num", "no", "nro", "so"})

#: A number of so many figures is no block's: somebody's phone, or an account.
LONGEST_NUMBER = 5

VESSELS = ("container", "own_container", "sheet", "tree", "percent")

_LETTER_AND_NUMBER = re.compile(r"[A-Za-z]\d{1,3}")


class Naming(Figures):
    """Notes which block is named."""

    def _block(self, item: Item) -> bool:
        """A block by its name, or a block word and a name or number."""
        if item.has("own_block", "block") and not self._is(-1, "block"):
            self._new_breath()
        if self._lettered_block(item):
            return True
        if item.has("own_block") and self._may_be_block(item):
            last = self.facts.found[-1] if self.facts.found else None
            if (
                last is not None
                and last.kind == "block"
                and last.at == self.at - 1
                and last.name == item.tags["own_block"]
            ):
                self.at += 1  # two words of one name
                return True
            self._note("block", name=str(item.tags["own_block"]))
            self.at += 1
            if self._is(0, "block") and not self._is(0, "litre", "no"):
                after = self._next()
                if after is None or not after.has("own_block"):
                    self.at += 1
            return True
        spoken = SPOKEN_LETTERS.get(item.key) if not item.tags and self._is_number_and_measure(1) else None
        called = next((name for name in self.blocks if spoken and fold(name) == spoken), None)
        if called is not None:
            self._note("block", name=called)  # `eme 17 litros`
            self.at += 1
            return True
        if item.has("block") or (item.key in BLOCK_LETTERS and self._glued_block_number()):
            return self._after_block_word(item)
        return False

    def _lettered_block(self, item: Item) -> bool:
        """`ka satu`, `A dua`, `handil lima`: the name of a block as it is spoken, letter or word and number."""
        letter = SPOKEN_LETTERS.get(item.key, item.key)
        number = self._next()
        if not letter or number is None or number.kind != "number" or not number.has("spelled") or number.value is None:
            return False
        forms = (f"{letter}{number.value}", f"{letter} {number.value}")
        name = next((each for each in self.blocks if fold(each) in forms), None)
        if name is None:
            return False
        self._note("block", name=name)
        self.at += 2
        return True

    def _foreign_block(self, item: Item) -> bool:
        """`C3` where the farm's blocks are named so, and none is this."""
        number = self._next()
        named_so = [name for name in self.blocks if _LETTER_AND_NUMBER.fullmatch(name)]
        if not named_so or number is None or number.kind != "number" or not number.glued or item.glued:
            return False
        as_others = all(name[0] == item.text for name in named_so) and set(item.tags) <= {"ignore", "from"}
        if len(item.text) != 1 or not item.text.isupper() or (item.tags and not as_others) or "." in number.text:
            return False
        self._note("badblock", name=f"{item.text}{number.text}")
        self.at += 2
        return True

    def _glued_block_number(self) -> bool:
        number = self._next()
        return number is not None and number.glued and number.kind == "number" and number.text in self.blocks

    def _may_be_block(self, item: Item) -> bool:
        """A one-letter name that is also a small word needs a sign that it is meant: a capital, or a number next to it."""
        name = str(item.tags["own_block"])
        if not name.isascii() and fold(item.text) in fold(name).split():
            return True  # written with its marks, as no small word is
        if len(item.key) == 1 and not item.text.isascii():
            return False  # `à 640 francs` where a block is called A
        graded = bool(self.facts.found) and self.facts.found[-1].kind == "grade"
        if graded and not item.capital and len(item.key) == 1:
            return False  # `RSS1 a 43 pesos`
        if len(item.key) == 1 and not item.capital and item.has("ignore") and self._letters_are_capital():
            return False  # `B a donné 13 litres`
        others = set(item.tags) - {"own_block", "slip"}
        if "ignore" in others and not item.capital:
            if self._is(-1, "from"):
                return True  # `that lump is from well`
            behind = self._next()
            known = behind is not None and (behind.kind != "word" or behind.tags)
            further = self._next(2) if known or len(item.key) > 1 else None
            near = [each for each in (self._next(-1), behind, further) if each is not None]
            return any(each.kind == "number" or each.has("block") for each in near)
        if not others or len(item.key) > 2:
            return True
        number = [self.items[self.at + step].kind == "number" for step in (-1, 1) if self._next(step) is not None]
        return item.capital or any(number) or self._is(-1, "block") or self._is(1, "block")

    def _is_number_and_measure(self, step: int) -> bool:
        number = self._next(step)
        return number is not None and number.kind == "number" and self._is(step + 1, "litre", "kg")

    def _letters_are_capital(self) -> bool:
        """Whether the text writes another block's one letter as a capital."""
        return any(each.has("own_block") and each.capital and len(each.key) == 1 for each in self.items)

    def _after_block_word(self, item: Item) -> bool:
        step = 1
        while self._is_sign(step, ".:#-=") or (self._is(step, "block") and not self._is(step, "own_block")):
            step += 1
        after = self._next(step)
        if item.has("no") and (after is None or (after.kind != "number" and not after.has("own_block"))):
            return False  # `no rain`: here it is no short form of number
        if after is None:
            self.at += 1
            return True
        if after.has("own_block"):
            self.at += step
            self._note("block", name=str(after.tags["own_block"]))
            self.at += 1
            self._further_block()
            return True
        if item.key in NUMBER_WORDS and self._is(-1, "tree"):
            self.at += step + 1  # `tree no 40`
            return True
        if after.text == "นึง":
            self.at += step + 1  # `a block`, no number
            return True
        if after.kind == "number" and after.value is not None:
            if after.text not in self.blocks and self._is(step + 1, "litre", "kg", "own_container") and not after.glued:
                return self._skip_if_litre(item)
            return self._numbered_block(after, step)
        if item.key in ("l", "lt", "b", "p", "no", "bl") and not after.glued and len(item.key) < 3:
            return self._skip_if_litre(item)
        short = is_latin(after.key) or len(after.key) <= 2
        letter = SPOKEN_LETTERS.get(after.key) if after.kind == "word" and not after.has("own_block") else None
        called = next((name for name in self.blocks if letter and fold(name) == letter), None)
        if called is not None:
            self.at += step  # `lô bê`
            self._note("block", name=called)
            self.at += 1
            return True
        label = (
            after.kind == "word"
            and short
            and (not after.tags or (len(after.key) <= 2 and after.capital and not after.has("litre", "kg")))
        )
        several = item.key.endswith("s") and len(item.key) > 3 and not after.capital  # `los dos lotes revuelta`
        if label and not several and not after.has("slip") and item.key not in NUMBER_WORDS:
            self.at += step
            self._note("badblock", name=after.text)
            self.at += 1
            return True
        return self._skip_if_litre(item)

    def _skip_if_litre(self, item: Item) -> bool:
        if item.has("litre", "from", "place", "container", "farm"):
            return False
        self.at += 1
        return True

    def _numbered_block(self, after: Item, step: int) -> bool:
        value = after.value
        assert value is not None
        further = self._next(step + 1)
        paired = (
            after.text.startswith("0") and further is not None and further.text.isdecimal() and len(further.text) == 2
        )
        dashed = after.text.startswith("0") and len(after.text) > 1 and self._is_sign(step + 1, "-")
        if dashed and after.text not in self.blocks:
            self._note("phone")  # `number 081-555-0147`
            self.at += step + 1
            while self._is_sign(0, "-") or (
                (more := self._next(0)) is not None and more.text.isdecimal() and self._is_sign(-1, "-")
            ):
                self.at += 1
            return True
        groups = [self._next(step + n) for n in (1, 2)]
        grouped = after.text.startswith("0") and all(
            g is not None and g.text.isdecimal() and len(g.text) > 2 for g in groups
        )
        long = after.text.isdecimal() and len(after.text) >= LONGEST_NUMBER
        if (long or paired or grouped) and after.text not in self.blocks:
            self.at += step  # `my number 98470 11223`, `numero 07 08 15 22 31`
            self._note("phone")
            self.at += 1
            least = 2 if paired else 3 if grouped else LONGEST_NUMBER
            while (more := self._next(0)) is not None and more.text.isdecimal() and len(more.text) >= least:
                self.at += 1
            return True
        name = str(int(value)) if value == int(value) else str(value)
        letter = self._next(step + 1)
        joined = f"{name}{letter.text}" if letter is not None and letter.glued and letter.kind == "word" else None
        known = {key.casefold(): key for key in self.blocks}
        if letter is not None and letter.kind == "word" and after.has("spelled") and not joined:
            joined = f"{name}{SPOKEN_LETTERS.get(letter.text.casefold(), letter.key)}"  # `lô năm xê`
        if joined and joined.casefold() in known:
            self.at += step + 1
            self._note("block", name=known[joined.casefold()])
            self.at += 1
            return True
        prefixed = [key for key in self.blocks if not key.isdecimal() and key.casefold().lstrip("bkclp") == name]
        lettered = [key for key in self.blocks if _LETTER_AND_NUMBER.fullmatch(key) and key[1:] == name]
        prefixed = prefixed or (lettered if len(lettered) == 1 else [])  # `estrada 1` where there is an E1
        self.at += step
        if name in self.blocks or not prefixed:
            self._note("block" if name in self.blocks else "badblock", name=name)
        else:
            self._note("block", name=prefixed[0])
        self.at += 1
        self._further_block()
        return True

    def _further_block(self) -> None:
        """`parcelles 12 et 14 au repos`: behind an `and` another number of a block, that nothing measures."""
        number, behind = self._next(1), self._next(2)
        named = number is not None and number.kind == "number" and number.text in self.blocks and self._is(0, "plus")
        counted = behind is not None and (behind.kind == "number" or behind.has("litre", "kg", "half", *VESSELS))
        words = behind is not None and behind.kind == "word"
        if named and number is not None and words and not counted:
            self.at += 1
            self._note("block", name=number.text)
            self.at += 1
