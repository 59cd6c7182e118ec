"""Entries of some domains, found by what stands before the point of their kind, through the index of the kinds: LIKE would read every entry."""

from sqlalchemy import Integer
from sqlalchemy.ext.compiler import compiles
from sqlalchemy.sql.expression import ColumnElement
from sqlalchemy.sql.functions import FunctionElement


class of_words(FunctionElement):
    """Whether a column of kinds begins with one of these words and a point."""

    type = Integer()  # SQLite's truth; said to be a Boolean it would be compared with 1, past the index
    inherit_cache = False  # the words are part of the statement
    name = "of_words"

    def __init__(self, column: ColumnElement, *words: str):
        if not words or not all(word.isidentifier() for word in words):
            raise ValueError("kinds are chosen by one plain word each")
        self.words, self.table = words, column.table.name
        super().__init__(column)


@compiles(of_words)
def _sqlite(element, compiler, **how) -> str:
    """A range of the index; "/" is the sign after "."."""
    column = compiler.process(element.clauses, **how)
    return "(" + " OR ".join(f"({column} >= '{word}.' AND {column} < '{word}/')" for word in element.words) + ")"


@compiles(of_words, "postgresql")
def _postgres(element, compiler, **how) -> str:
    """Equality, which needs no order: a range follows the language of the database. The few kinds there are come by leaps from one to the next."""
    leaps = f"SELECT min(kind) FROM {element.table} UNION ALL SELECT (SELECT min(one.kind) FROM {element.table} AS one WHERE one.kind > leap.kind) FROM leap WHERE leap.kind IS NOT NULL"
    wanted = " OR ".join(f"starts_with(leap.kind, '{word}.')" for word in element.words)
    return f"({compiler.process(element.clauses, **how)} IN (WITH RECURSIVE leap(kind) AS ({leaps}) SELECT leap.kind FROM leap WHERE {wanted}))"
