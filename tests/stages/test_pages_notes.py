"""Sentences that code can put beside a figure: pages know each of them, or a list says why not."""

import ast
import itertools
import re
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

from pipeline.indicators.catalogue import CATALOGUE
from pipeline.pages.words import stored, words
from pipeline.plural import n_of
from pipeline.tongue import LANGUAGES

sys.path.insert(0, str(Path(__file__).parents[1] / "whole"))
from pages_tongue import left_english

CODE = Path(__file__).parents[2] / "pipeline"
PLACES = [p for p in (CODE / "indicators").glob("*.py") if p.name != "remember.py"] + [CODE / "by_rule.py"]
PLACES += (CODE / "groups").glob("*.py")
ENGLISH = Path(__file__).with_name("notes_in_english.toml")
WHOLE = Path(__file__).with_name("notes_put_together.txt").read_text().splitlines()
GAP = "\0"
FILLS = ("3", "2025-03-01", "X", "treated")  # a number, a day, a name, a word of ours
SQL = re.compile(r"\b(select|join|union|\w+_key|and|coalesce) |\$\w+|\w_\w+ (is|=) |'")
WORDS = 4  # fewer are names of indicators, units, and ends of sentences


def texts(node: ast.expr) -> list[str]:
    """What an expression may give, what it does not tell as GAP."""
    match node:
        case ast.Constant():
            return [str(node.value)]
        case ast.IfExp():
            return texts(node.body) + texts(node.orelse)
        case ast.FormattedValue(format_spec=ast.JoinedStr(values=[ast.Constant(value=str(form))])) if form.endswith(
            "%"
        ):
            return [f"{GAP}%"]
        case ast.FormattedValue():
            return texts(node.value)
        case ast.JoinedStr():
            return ["".join(parts) for parts in itertools.product(*map(texts, node.values))]
        case ast.BinOp(op=ast.Add()):
            return ["".join(parts) for parts in itertools.product(texts(node.left), texts(node.right))]
        case ast.Call(func=ast.Name(id="n_of"), args=[_, *nouns]) if all(isinstance(n, ast.Constant) for n in nouns):
            said = [str(n.value) for n in nouns if isinstance(n, ast.Constant)]
            return [n_of(n, *said).replace(str(n), GAP, 1) for n in (1, 3)]
    return [GAP]


def sentences(tree: ast.AST) -> Iterator[str]:
    """Every text of some words in a module; docstrings and messages of errors left out."""
    left: set[int] = set()
    for node in ast.walk(tree):
        bare = isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)
        if bare or isinstance(node, ast.Raise | ast.Slice):
            left.update(map(id, ast.walk(node)))

    def within(node: ast.AST) -> Iterator[str]:
        if id(node) in left:
            return
        if isinstance(node, ast.JoinedStr | ast.BinOp) or (isinstance(node, ast.Constant) and isinstance(node.value, str)):  # fmt: skip
            yield from texts(node)
        for child in ast.iter_child_nodes(node):
            if not isinstance(node, ast.JoinedStr) or isinstance(child, ast.FormattedValue):
                yield from within(child)

    for text in within(tree):
        if len(re.findall("[A-Za-z]{2,}", text)) >= WORDS and "\n" not in text and text not in CATALOGUE:
            yield text


def known(text: str) -> bool:
    """Whether pages know it, its gaps filled in one way or another."""
    told = words("nb")
    gaps = text.count(GAP)
    fills = itertools.product(FILLS, repeat=gaps) if gaps < 5 else [[fill] * gaps for fill in FILLS]
    for fill in fills:
        made = iter(fill)
        if told.knows(re.sub(GAP, lambda _m, made=made: next(made), text).strip()):
            return True
    return False


def a_piece(text: str, every: str) -> bool:
    """Whether all its words stand in sentences of ours, so that it is a piece of one that is put together elsewhere."""
    firm = (part.strip(" :,.()") for part in re.split(f"{GAP}|; ", text))
    return all(part in every for part in firm if len(part.split()) > 1)


def test_pages_know_every_sentence_beside_a_figure():
    """Notes and cautions of the code are known to pages, whole or as pieces; those that are not stand in a list with its reason, and no others do."""
    every = re.sub(r"\{\w+\}", GAP, "\n".join(stored()))
    allowed = tomllib.loads(ENGLISH.read_text())
    assert all(part["reason"] for part in allowed.values())
    found = {
        text.replace(GAP, "{}")
        for path in PLACES
        for text in sentences(ast.parse(path.read_text()))
        if not (path.parent.name == "groups" and SQL.search(text))
        if not known(text) and not a_piece(text, every)
    }
    listed = [text for part in allowed.values() for text in part["texts"]]
    assert sorted(found - set(listed)) == [], "translate these in pipeline/pages/words/*.po, context stored"
    assert sorted(set(listed) - found) == [], "known by now, or no longer told: take them off the list"
    assert len(listed) == len(set(listed))


@pytest.mark.parametrize("code", [c for c in LANGUAGES if c != "en"])
def test_sentences_put_together_of_parts_are_told_again_to_their_last_word(code):
    """Of each sentence that the code makes of several parts, no part stays English on a page of another language."""
    told = words(code)
    assert [t for t in WHOLE if not told.knows(t)] == []
    assert [t for t in WHOLE if left_english(told.again(t), t)] == []


def test_the_sentences_are_found():
    """The collector sees constants, gaps, counts in both numbers, and both ends of a condition."""
    code = 'def f(n, x):\n    "one two three four"\n    return f"only {n_of(n, \'site\')} of the {x} wanted" if x else "none of them was found"\n'
    assert sorted(set(sentences(ast.parse(code)))) == [
        "none of them was found", "only \0 site of the \0 wanted", "only \0 sites of the \0 wanted",
    ]  # fmt: skip
    assert known("no such cost is recorded") and known("lots looked at and not counted, left out: \0")
    assert not known("this sentence is told by nobody")
