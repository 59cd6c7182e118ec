"""What SQL asks of a stored body, said for SQLite and for PostgreSQL. Bodies stay text: PostgreSQL's jsonb would change how numbers are written and refuse \\u0000."""

from sqlalchemy import Text
from sqlalchemy.ext.compiler import compiles
from sqlalchemy.sql.expression import ColumnElement
from sqlalchemy.sql.functions import FunctionElement


class _OfBody(FunctionElement):
    """A function of a column of JSON text and the name of a field at its top."""

    type = Text()
    inherit_cache = False  # the field's name is part of the statement

    def __init__(self, column: ColumnElement, field: str):
        if not field.isidentifier():
            raise ValueError("a field of a body is named by one plain word")
        self.field = field
        super().__init__(column)


class without(_OfBody):
    """The body without a field."""

    name = "without"
    inherit_cache = False


class in_byte_order(FunctionElement):
    """A column of text that sorts by its bytes, whatever the language of the database."""

    type = Text()
    name = "in_byte_order"
    inherit_cache = True


@compiles(without)
def _without_sqlite(element, compiler, **how) -> str:
    return f"json_remove({compiler.process(element.clauses, **how)}, '$.{element.field}')"


@compiles(without, "postgresql")
def _without_postgres(element, compiler, **how) -> str:
    parts = f"json_each(CAST({compiler.process(element.clauses, **how)} AS json)) AS part"
    return f"(SELECT coalesce(CAST(json_object_agg(part.key, part.value) AS text), '{{}}') FROM {parts} WHERE part.key <> '{element.field}')"


@compiles(in_byte_order)
def _order_sqlite(element, compiler, **how) -> str:
    return compiler.process(element.clauses, **how)


@compiles(in_byte_order, "postgresql")
def _order_postgres(element, compiler, **how) -> str:
    return f'({compiler.process(element.clauses, **how)}) COLLATE "C"'
