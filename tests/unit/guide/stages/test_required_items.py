"""Lists of the close-out: a source for every line."""

from chargeassist.guide.stages.required_items import required_items


def test_every_line_has_a_key_of_its_own_and_a_source() -> None:
    items = required_items(a2l=True)
    assert len({item.key for item in items}) == len(items)
    assert all(item.source and item.text for item in items)
    fewer = required_items(a2l=False)
    assert {item.key for item in items} - {item.key for item in fewer} == {
        "flammable", "room_area", "last_leak_check",
    }  # fmt: skip
