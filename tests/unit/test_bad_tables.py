"""Bad offset tables: each is refused with its place, what was found, expected, and to do."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from unit.bad_tables import BAD_TABLES, GOOD

from frontcheck.errors import InputError
from frontcheck.reading.readers import read_front
from frontcheck.reading.table import MAX_BYTES


def test_the_unspoilt_table_is_taken(tmp_path):
    path = tmp_path / "good.csv"
    path.write_bytes(GOOD)
    assert read_front(path).stations == (0.0, 100.0)


def test_there_are_at_least_sixty_and_all_differ():
    assert len(BAD_TABLES) >= 60
    assert len({table.name for table in BAD_TABLES}) == len(BAD_TABLES)
    assert len({table.content for table in BAD_TABLES}) == len(BAD_TABLES)


@pytest.mark.parametrize("table", BAD_TABLES, ids=lambda table: table.name)
def test_bad_table(table, tmp_path):
    path = tmp_path / "bad.csv"
    path.write_bytes(table.content)
    with pytest.raises(InputError) as caught:
        read_front(path)
    error = caught.value
    assert error.file == str(path)
    assert error.row == table.row
    assert error.column == table.column
    for said, word in (
        (error.found, table.found),
        (error.expected, table.expected),
        (error.todo, table.todo),
    ):
        assert word in said
    message = str(error)
    assert "\n" not in message
    assert len(message) < 700 + len(str(path))
    assert message.startswith(str(path))
    assert list(tmp_path.iterdir()) == [path]


class TestFiles:
    @staticmethod
    def refused(path, found, todo, **options):
        with pytest.raises(InputError) as caught:
            read_front(path, **options)
        assert found in caught.value.found
        assert todo in caught.value.todo
        assert caught.value.expected
        assert caught.value.file == str(path)

    def test_missing(self, tmp_path):
        self.refused(tmp_path / "none.csv", "no such file", "check the file name")

    def test_folder(self, tmp_path):
        (tmp_path / "folder.csv").mkdir()
        self.refused(tmp_path / "folder.csv", "a folder", "name the file")

    def test_device(self, tmp_path):
        (tmp_path / "null.csv").symlink_to("/dev/null")
        self.refused(tmp_path / "null.csv", "not a plain file", "save the table")

    def test_link_to_itself(self, tmp_path):
        (tmp_path / "loop.csv").symlink_to("loop.csv")
        self.refused(tmp_path / "loop.csv", "", "check the")

    def test_nul_in_the_file_name(self):
        self.refused("a\0b.csv", "", "check the")

    def test_name_too_long(self):
        self.refused("x" * 5000 + ".csv", "cannot be opened", "check the name")

    def test_huge(self, tmp_path):
        path = tmp_path / "huge.csv"
        with path.open("wb") as file:
            file.truncate(MAX_BYTES + 1)
        self.refused(path, "too large", "at most 20 MB")

    def test_a_million_rows_are_counted_before_they_are_taken_apart(self, tmp_path):
        """A row that is none stands among them: it would be refused first."""
        path = tmp_path / "scan.csv"
        path.write_text("station_mm,height_mm,setback_mm\nx\n" + "0,200,9\n" * 1_000_000)
        self.refused(path, "1000002 rows", "thin the rows out; a few dozen")

    def test_too_many_rows_at_a_station(self, tmp_path):
        path = tmp_path / "scan.csv"
        rows = "".join(f"0,{i},{i % 7}\n" for i in range(20_001))
        path.write_text("# datum: local\nstation_mm,height_mm,setback_mm\n" + rows)
        self.refused(path, "20001 rows at station 0 mm", "thin the rows out")

    @pytest.mark.parametrize("name", ["front.xlsm", "front", "front.csv.bak", ".csv"])
    def test_unknown_suffix(self, name, tmp_path):
        path = tmp_path / name
        path.write_bytes(GOOD)
        self.refused(path, "suffix", "with its suffix")

    def test_option_that_a_table_does_not_take(self, tmp_path):
        path = tmp_path / "good.csv"
        path.write_bytes(GOOD)
        self.refused(path, "option unit", "leave unit out", unit="mm")
        assert read_front(path, unit=None).stations == (0.0, 100.0)


SPLICES = [b"", b",", b";", b"\t", b"\n", b"\r", b'"', b"#", b":", b".", b"-", b"+", b"e9", b"0"]
SPLICES += [
    b"nan",
    b"\0",
    b"\xff",
    b"\xc3\xa4",
    b" ",
    b"part",
    b"_mm",
    b"# datum: local\n",
    b"\n\n",
]


@settings(max_examples=400)
@given(
    edits=st.lists(
        st.tuples(
            st.integers(0, len(GOOD)), st.integers(0, 12), st.sampled_from(SPLICES) | st.binary()
        ),
        min_size=1,
        max_size=4,
    )
)
def test_any_damage_is_read_or_refused_with_reasons(edits, tmp_path_factory):
    """Bytes cut out and put in anywhere: a front, or an InputError, never anything else."""
    content = GOOD
    for start, cut, splice in edits:
        content = content[:start] + splice + content[start + cut :]
    path = tmp_path_factory.getbasetemp() / "damaged.csv"
    path.write_bytes(content)
    error = front = None
    try:
        front = read_front(path)
    except InputError as caught:
        error = caught
    if error is None:
        assert all(len(section) >= 3 for section in front.sections)
        return
    assert error.file == str(path)
    assert error.found
    assert error.expected
    assert error.todo
    assert error.row is None or 1 <= error.row <= content.count(b"\n") + 1
    assert str(error).isprintable()
