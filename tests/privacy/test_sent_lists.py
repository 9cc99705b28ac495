"""A roster somebody else sent and did not take yet: who leaves in between is no more in it, and is not brought back by it."""

import pytest

from fleet.errors import Refusal
from fleet.exchange.deliveries import keep_delivery
from fleet.exchange.rosters import keep_roster, roster_of, take_roster
from fleet.garage.models import Rider
from fleet.privacy.actions import erase

HEADER = "number,name,group,bike,warmers,contact,rider"


@pytest.fixture
def send(crew, day, group, now):
    def sent(*rows, name="roster.csv"):
        data = "\n".join([HEADER, *rows]).encode()
        return keep_roster(by=crew, at=now, day=day, name=name, data=data)

    return sent


@pytest.fixture
def leave(rider, now):
    def done():
        Rider.objects.filter(pk=rider.pk).update(contact="07700 900123")
        erase(by=rider.person, at=now)

    return done


@pytest.mark.parametrize(
    "row",
    [
        "7,Robin Vale,Fast,1000 sport,,,",
        "7,robin vale,Fast,,,,",
        "7,R. V.,Fast,,,robin@example.org,",
        "7,R. V.,Fast,,,07700 900123,",
        "7,R. V.,Fast,,,,r-001",
    ],
)
def test_the_whole_line_goes_and_the_list_says_so_and_is_not_taken(send, leave, crew, now, row):
    upload = send(row, "8,Bo Elm,Fast,600 sport,,07700 900999,", name="Robin Vale and Bo.csv")

    leave()

    upload.refresh_from_db()
    assert upload.rows[1:] == [
        [2, ["(erased)"]],
        [3, ["8", "Bo Elm", "Fast", "600 sport", "", "07700 900999", ""]],
    ]
    assert "Robin" not in upload.file_name
    roster = roster_of(upload)
    assert [
        (fault.line, "erased since" in fault.sentence) for row in roster.faulty for fault in row.faults
    ] == [(2, True)]
    with pytest.raises(Refusal, match="send the list again without this line"):
        take_roster(by=crew, at=now, upload=upload, decided={})
    assert not Rider.objects.filter(name__startswith="R").exists()


def test_somebody_else_stays_in_the_list_with_the_number_and_the_group(send, leave):
    upload = send("8,Robina Vale,Fast,600 sport,,07700 900124,", "9,Vale Robin,Fast,,,,r-0011")
    before = upload.rows

    leave()

    upload.refresh_from_db()
    assert upload.rows == before


def test_a_delivery_keeps_its_lines_without_the_name(leave, tarn, stock_manager, now):
    data = b"spec,quantity,note\nx-1,4,for Robin Vale\n"
    upload = keep_delivery(by=stock_manager, at=now, vendor=tarn, name="delivery.csv", data=data)

    leave()

    upload.refresh_from_db()
    assert upload.rows[1] == [2, ["x-1", "4", "for (erased)"]]
