"""Every key does one thing."""

from collections import Counter

from viewer.bench.input import KEYS
from viewer.bench.sheet_keys import CONTROL_KEYS


def test_no_key_has_two_meanings():
    names = Counter(name for key in KEYS for name in key.names)
    assert [name for name, count in names.items() if count > 1] == []
    held = Counter((key.name, key.shift) for key in CONTROL_KEYS)
    assert [name for name, count in held.items() if count > 1] == []
