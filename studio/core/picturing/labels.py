"""What pieces are called on a plan: a letter for each student, a number where there are several."""

from __future__ import annotations

from studio.core.cutting import Job

ALPHABET = 26


def labels_of(job: Job) -> dict[str, str]:
    """A letter for each group (A, B … Z, AA …), in the job's order."""
    groups = list(dict.fromkeys(wanted.group or "" for wanted in job.pieces))
    return {group: letters_of(number) for number, group in enumerate(groups)}


def labels_of_pieces(job: Job) -> dict[tuple[str, int], str]:
    """What each copy is called, by piece and copy: the group's letter, and a number where the group
    has several pieces."""
    letters = labels_of(job)
    copies: dict[str, list[tuple[str, int]]] = {}
    for wanted in job.pieces:
        own = copies.setdefault(wanted.group or "", [])
        own.extend((wanted.id, copy) for copy in range(wanted.count))
    return {
        key: letters[group] if len(keys) == 1 else f"{letters[group]}{number}"
        for group, keys in copies.items()
        for number, key in enumerate(keys, start=1)
    }


def letters_of(number: int) -> str:
    """A for 0, B for 1 … Z, AA, AB …"""
    word = ""
    number += 1
    while number:
        number, rest = divmod(number - 1, ALPHABET)
        word = chr(ord("A") + rest) + word
    return word


def number_of(letters: str) -> int:
    """Which group has these letters, from 0; ValueError for what is no such word."""
    if not letters or any(not "A" <= letter <= "Z" for letter in letters):
        raise ValueError(f"{letters!r} is no letter of a plan")
    number = 0
    for letter in letters:
        number = number * ALPHABET + ord(letter) - ord("A") + 1
    return number - 1
