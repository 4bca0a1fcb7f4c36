"""Bytes of a roster read into rows: delimiters, encodings, limits, and every file that is refused by name."""

import os

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from athletes.spreadsheet import (
    LARGEST_FILE,
    LONGEST_CELL,
    MOST_COLUMNS,
    MOST_ROWS,
    BadShape,
    FileTooLarge,
    NotText,
    UnreadableTable,
    WrongEncoding,
    probable_encoding,
    read_table,
)


@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_each_common_separator_is_found(separator):
    table = read_table(f"name{separator}mail\nWren{separator}w@x.example\n".encode())
    assert (table.headings, table.rows) == (("name", "mail"), ((2, ("Wren", "w@x.example")),))


def test_a_first_line_that_names_the_separator_is_taken_off():
    assert read_table(b"sep=;\nname;mail\nWren, the younger;w@x.example\n").rows == (
        (2, ("Wren, the younger", "w@x.example")),
    )


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_unicode_is_read_with_and_without_a_mark(encoding):
    assert read_table("name,mail\nZoë Łuk,z@x.example\n".encode(encoding)).rows[0][1][0] == "Zoë Łuk"


def test_quoted_cells_may_hold_separators_quotes_and_line_breaks():
    """RFC 4180, section 2, rules 5 to 7."""
    table = read_table(b'name,note\r\n"Tollifant, Wren","says ""hi""\r\ntwice"\r\n')
    assert table.rows == ((2, ("Tollifant, Wren", 'says "hi"\r\ntwice')),)


def test_blank_rows_are_left_out_and_numbers_stay_those_of_the_spreadsheet():
    table = read_table(b'a,b\n1,"2\n2"\n,\n\n5,6\n')
    assert [number for number, _cells in table.rows] == [2, 5]


@pytest.mark.parametrize(
    ("text", "encoding", "probable"),
    [
        ("Zoë Müller", "cp1252", "cp1252"),
        ("O\u2019Brien Zoë", "cp1252", "cp1252"),
        ("Łukasz Żółć", "cp1250", "cp1250"),
        ("Иван Петров", "cp1251", "cp1251"),
        ("Γιώργος Παπάς", "cp1253", "cp1253"),
        ("Zoë", "utf-16-le", "utf_16_le"),
        ("Zoë", "utf-16-be", "utf_16_be"),
    ],
)
def test_the_probable_encoding_is_named_and_the_file_can_be_read_as_that(text, encoding, probable):
    data = f"name;mail\n{text};z@x.example\n".encode(encoding)
    with pytest.raises(WrongEncoding, match="probably") as refused:
        read_table(data)
    assert refused.value.probable == probable
    assert read_table(data, encoding=probable).rows[0][1][0] == text


@pytest.mark.parametrize(
    ("data", "error", "says"),
    [
        (b"a" * (LARGEST_FILE + 1), FileTooLarge, "1 MB"),
        (b"PK\x03\x04rest", NotText, "save it as CSV"),
        (b"\xd0\xcf\x11\xe0rest", NotText, "xls"),
        (b"%PDF-1.7", NotText, "pdf"),
        (b"name,mail\nWr\x00en,w@x.example\n", NotText, "position 12"),
        (b"\xef\xbb\xbfname\n\xff\xfe\n", NotText, "bytes that no text has"),
        (b"", BadShape, "empty"),
        (b"\n \n,,\n", BadShape, "empty"),
        (b"name,mail\n", BadShape, "no rows"),
        (b"wren@x.example,Wren\njo@x.example,Jo\n", BadShape, "headings"),
        (b'name,mail\n"Wren,w@x.example\n', BadShape, "Row 2"),
        (b'name,mail\n"Wren"x,w@x.example\n', BadShape, "Row 2"),
        (b"a,b\n" + b"1,2\n" * (MOST_ROWS + 1), BadShape, "1000 rows"),
        (b"," * MOST_COLUMNS + b"\n1\n", BadShape, "columns"),
        (b"a,b\n1," + b"x" * (LONGEST_CELL + 1), BadShape, "Row 2, column 2"),
        (b'a,b\n"' + b"x" * 200_000 + b'",1\n', BadShape, "Row 2"),
    ],
)
def test_a_file_that_is_no_roster_is_refused_with_what_to_change(data, error, says):
    with pytest.raises(error, match=says):
        read_table(data)


def test_an_encoding_that_is_not_offered_is_not_used():
    with pytest.raises(NotText):
        read_table(b"a,b\n1,2\n", encoding="rot13")


def test_the_largest_number_of_rows_is_read():
    assert len(read_table(b"a,b\n" + b"1,2\n" * MOST_ROWS).rows) == MOST_ROWS


@settings(max_examples=200, deadline=None)
@given(st.binary(max_size=400))
def test_no_bytes_end_in_anything_but_a_table_or_a_named_refusal(data):
    try:
        table = read_table(data)
    except UnreadableTable as refused:
        assert len(str(refused)) > 20
    else:
        assert table.headings
        assert table.rows


def test_guessing_an_encoding_is_quick_on_a_large_file_of_noise():
    assert isinstance(probable_encoding(os.urandom(200_000)), str)
