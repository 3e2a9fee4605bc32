"""What has arrived, in order and bounded; the words of a name."""

from chargeassist.session.listening import Field, Form, Heard
from chargeassist.session.wiring.arrived import (
    MAX_FIELDS,
    MAX_TOPICS,
    Arrivals,
    Place,
    words_of,
)

CSV, KEYED = Form("csv"), Form("keyvalue")


class Watch:
    def __init__(self) -> None:
        self.t = 100.0

    def __call__(self) -> float:
        return self.t


def line(form: Form | None, *numbers: float | None, topic: str = "", raw: bytes = b"x") -> Heard:
    fields = tuple(Field(str(i), str(n), n) for i, n in enumerate(numbers, start=1))
    return Heard(raw, topic, form, fields)


def test_the_newest_of_each_field_with_its_age() -> None:
    watch = Watch()
    arrivals = Arrivals(watch)
    arrivals.heard(line(CSV, 1.0, 2.0))
    watch.t += 3.0
    arrivals.heard(line(CSV, 1.5))
    rows = arrivals.rows()
    assert [(r.place.select, r.field.number, r.age_s) for r in rows] == [
        ("1", 1.5, 0.0),
        ("2", 2.0, 3.0),
    ]
    assert arrivals.row(Place("", "2")) == rows[1]
    assert arrivals.row(Place("", "9")) is None
    assert arrivals.count == 2


def test_one_odd_line_does_not_change_the_form_of_a_port() -> None:
    arrivals = Arrivals(Watch())
    for _ in range(5):
        arrivals.heard(line(CSV, 1.0, 2.0))
    arrivals.heard(line(KEYED, 7.0))  # a greeting, a half line
    assert {row.form for row in arrivals.rows()} == {CSV}
    assert len(arrivals.rows()) == 2
    for _ in range(20):
        arrivals.heard(line(KEYED, 7.0))
    assert [(row.form, row.field.number) for row in arrivals.rows()] == [(KEYED, 7.0)]


def test_topics_are_told_apart_and_those_without_a_number_named() -> None:
    arrivals = Arrivals(Watch())
    arrivals.heard(line(CSV, 2.0, topic="b", raw=b"second"))
    arrivals.heard(line(CSV, 1.0, topic="a", raw=b"first\x1b[2J\r\n"))
    arrivals.heard(line(None, topic="status", raw=b"online"))
    assert [row.place.topic for row in arrivals.rows()] == ["a", "b"]
    assert arrivals.unread() == ("status",)
    assert arrivals.lines("a", 5) == ("first·[2J",)
    assert arrivals.lines(None, 2) == ("a first·[2J", "status online")


def test_a_live_message_ends_being_only_kept_by_the_broker() -> None:
    arrivals = Arrivals(Watch())
    arrivals.heard(Heard(b"1", "t", CSV, (Field("1", "1", 1.0),), retained=True))
    assert arrivals.rows()[0].retained
    arrivals.heard(line(CSV, 1.0, topic="t"))
    assert not arrivals.rows()[0].retained


def test_a_flood_of_topics_and_fields_is_bounded_and_counted() -> None:
    arrivals = Arrivals(Watch())
    for i in range(MAX_TOPICS + 7):
        arrivals.heard(line(CSV, 1.0, topic=f"t{i}"))
    assert len(arrivals.rows()) == MAX_TOPICS
    assert arrivals.passed_over == 7
    for i in range(MAX_FIELDS + 50):
        arrivals.heard(Heard(b"", "t0", CSV, (Field(f"k{i}", "1", 1.0),)))
    assert sum(row.place.topic == "t0" for row in arrivals.rows()) == MAX_FIELDS


def test_what_is_silent_and_what_is_no_line() -> None:
    arrivals = Arrivals(Watch())
    arrivals.lost("unplugged")
    assert arrivals.silent_why == "unplugged"
    arrivals.back()
    assert not arrivals.silent_why
    arrivals.trouble("expected ASCII", b"\xff")
    assert (arrivals.troubles, arrivals.last_trouble) == (
        1,
        "expected ASCII: \N{REPLACEMENT CHARACTER}",
    )


def test_words_of_names() -> None:
    assert words_of("job/clamps.suctionTemp") == {"job", "clamps", "suction", "temp"}
    assert words_of("liquid_pressure") == {"liquid", "pressure"}
