"""What holds for every kind of file."""

from datetime import date

import pytest

from register.domain.vocabulary import FILE_KIND, codes
from register.imports.kinds import KINDS
from register.imports.reading import read_file
from register.selectors.imports import JUDGES
from register.services.import_confirm import WRITERS
from tests.referral_files import written


def test_each_kind_is_read_judged_and_written():
    assert set(KINDS) == set(JUDGES) == set(WRITERS) == set(codes(FILE_KIND))


@pytest.mark.parametrize("kind", KINDS.values(), ids=list(KINDS))
def test_the_examples_beside_the_columns_make_a_row_that_can_be_read(kind):
    cells = {column.name: column.example for column in kind.columns}
    file = read_file(
        written([cells], names=cells), kind=kind, date_order="dmy", today=date(2027, 7, 1)
    )
    assert [line.reasons for line in file.lines] == [()]
    assert file.rows


@pytest.mark.parametrize("kind", KINDS.values(), ids=list(KINDS))
def test_no_two_columns_of_a_kind_have_one_name_or_one_place(kind):
    assert len({column.plain for column in kind.columns}) == len(kind.columns)
    assert len({column.key for column in kind.columns}) == len(kind.columns)
