"""The tables that are made are the tables that the program sees."""

from sqlalchemy import inspect

from voicetech.archive import layouts, tables
from voicetech.archive.address import address_from
from voicetech.archive.opening import Archive, open_archive


def test_the_tables_are_those_the_program_knows(archive: Archive) -> None:
    known = {**tables.BASE.tables, **tables.KEPT.tables, **tables.SUMMARIES.tables}
    with archive.reading() as connection:
        made = inspect(connection)
        assert set(known) <= set(made.get_table_names())
        for name, table in known.items():
            columns = {column["name"]: column for column in made.get_columns(name)}
            assert set(columns) == set(table.columns.keys()), name
            assert set(made.get_pk_constraint(name)["constrained_columns"]) == set(table.primary_key.columns.keys()), (
                name
            )
            for column in table.columns:
                # SQLite calls a text key nullable where nothing says otherwise.
                if not column.primary_key:
                    assert columns[column.name]["nullable"] == column.nullable, f"{name}.{column.name}"


def test_an_archive_opened_again_is_left_as_it_is(archive: Archive, address: str) -> None:
    with open_archive(address_from(address)) as again, again.reading() as connection:
        assert layouts.versions(connection) == {
            layouts.KEPT: len(layouts.KEPT_STEPS),
            layouts.SUMMARIES: layouts.SUMMARIES_VERSION,
        }
