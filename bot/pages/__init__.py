"""Pages: the practice phone and the owner's week; made on the server, without scripts."""
