"""Look up known vulnerabilities of what is deployed, deploy/requirements.lock. Needs pip-audit and its service.

    python deploy/audit.py

Exit status 1 when a vulnerability is known. Where the service cannot be reached, nothing was audited: that is said
plainly, and the exit status is 0, or 1 with AUDIT_REQUIRED=yes.
"""

import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

LOCK = Path(__file__).parent / "requirements.lock"

#: One package is looked up first, so that a service that is not there is noticed at once.
FIRST = "click"
SECONDS = 300


def audited(lock: Path) -> list[dict[str, Any]] | None:
    """What is known of each package of a lock file, or None when the service did not say."""
    command = [sys.executable, "-m", "pip_audit", "--requirement", str(lock), "--disable-pip", "--no-deps"]
    command += ["--format", "json", "--progress-spinner", "off"]
    try:
        done = subprocess.run(command, capture_output=True, text=True, timeout=SECONDS, check=False)
        found: list[dict[str, Any]] = json.loads(done.stdout)["dependencies"]
    except (subprocess.TimeoutExpired, ValueError, KeyError):
        return None
    return None if any("vulns" not in each for each in found) else found


def first_of(lock: Path) -> str:
    """The lines of one package."""
    blocks = lock.read_text(encoding="utf-8").split("\n" + FIRST + "==")
    version = blocks[1].split()[0]
    return f"{FIRST}=={version}\n"


def main() -> int:
    """Audit, and say what was found."""
    with tempfile.TemporaryDirectory() as folder:
        one = Path(folder) / "one.txt"
        one.write_text(first_of(LOCK), encoding="utf-8")
        found = None if audited(one) is None else audited(LOCK)
    if found is None:
        print("AUDIT SKIPPED: no service of known vulnerabilities can be reached from here. Nothing was audited.")
        return int(os.environ.get("AUDIT_REQUIRED") == "yes")
    known = [(each, fault) for each in found for fault in each["vulns"]]
    for each, fault in known:
        print(
            f"{each['name']} {each['version']}: {fault['id']}, mended in {', '.join(fault['fix_versions']) or 'none'}"
        )
    print(f"{len(found)} packages audited, {len(known)} known vulnerabilities.")
    return int(bool(known))


if __name__ == "__main__":
    sys.exit(main())
