"""Sealed files by pyrage: opens ours, and seals the same for us."""

import sys
from pathlib import Path

import pyrage

folder = Path(sys.argv[1])
sent, out = folder / "in", folder / "out"


def read(name):
    return (sent / name).read_bytes()


key = pyrage.x25519.Identity.from_str(read("key").decode())
words = read("words").decode()
(out / "opened_by_key").write_bytes(pyrage.decrypt(read("by_key"), [key]))
(out / "opened_by_words").write_bytes(pyrage.passphrase.decrypt(read("by_words"), words))

recipient = pyrage.x25519.Recipient.from_str(read("public").decode())
(out / "sealed_by_key").write_bytes(pyrage.encrypt(read("plain"), [recipient]))
(out / "sealed_by_words").write_bytes(pyrage.passphrase.encrypt(read("plain"), words))
theirs = pyrage.x25519.Identity.generate()
(out / "their_key").write_text(str(theirs))
(out / "their_public").write_text(str(theirs.to_public()))
