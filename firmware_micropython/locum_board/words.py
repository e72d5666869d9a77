"""Reading the words of a message: headers, numbers, names. Text in, integers out; no float."""

from .status import Fault

MAX_DIGITS = 9


def integer(text, least, most, scale=0, suffixes=None):
    """A decimal number as an integer of units ``10**-scale``; -222 outside ``least..most``.

    ``"1.5k"`` style multipliers are not SCPI; ``suffixes`` maps a unit such as ``"KOHM"`` to the
    power of ten it adds. Digits beyond the scale are rounded half up.
    """
    text = text.strip().upper()
    end = len(text)
    while end and ("A" <= text[end - 1] <= "Z"):
        end -= 1
    suffix = text[end:]
    body = text[:end].strip()
    power = 0
    if suffix == "E" or not body:
        raise Fault(-120, text[:20])
    if suffix:
        if not suffixes or suffix not in suffixes:
            raise Fault(-131, text[:20])
        power = suffixes[suffix]
    if "E" in body:
        body, exponent = body.split("E", 1)
        power += _whole(exponent, 2)
    sign = 1
    if body[:1] in ("+", "-"):
        sign = -1 if body[0] == "-" else 1
        body = body[1:]
    before, dot, after = body.partition(".")
    digits = before + after
    if not digits or len(digits) > 2 * MAX_DIGITS or not _is_digits(digits):
        raise Fault(-120, text[:20])
    shift = power + scale - len(after)
    value = int(digits)
    if shift > MAX_DIGITS and value:
        raise Fault(-222, text[:20])
    if shift >= 0:
        value *= 10**shift
    elif shift < -2 * MAX_DIGITS:
        value = 0
    else:
        unit = 10**-shift
        value = (value + unit // 2) // unit
    value *= sign
    if not least <= value <= most:
        raise Fault(-222, text[:20])
    return value


def _is_digits(text):
    for letter in text:
        if not "0" <= letter <= "9":
            return False
    return True


def _whole(text, most_digits):
    sign = 1
    if text[:1] in ("+", "-"):
        sign = -1 if text[0] == "-" else 1
        text = text[1:]
    if not text or len(text) > most_digits or not _is_digits(text):
        raise Fault(-120, text[:20])
    return sign * int(text)


def boolean(text):
    """ON, OFF or a number that rounds to zero or not."""
    word = text.strip().upper()
    if word == "ON":
        return 1
    if word == "OFF":
        return 0
    return 1 if integer(text, -1000000, 1000000) else 0


def choice(text, names):
    """Index of a name given in its long or short form; ``names`` as ``"THRough"``."""
    word = text.strip().upper()
    for index, name in enumerate(names):
        if word == name.upper() or word == short(name):
            return index
    raise Fault(-224, text.strip()[:20])


def short(name):
    """The short form: the capitals (and digits) of ``"THRough"``."""
    return "".join([c for c in name if not "a" <= c <= "z"])


def quoted(text, most):
    """The inside of a quoted string."""
    text = text.strip()
    if len(text) < 2 or text[0] not in "\"'" or text[-1] != text[0]:
        raise Fault(-151)
    inside = text[1:-1]
    if len(inside) > most or text[0] in inside:
        raise Fault(-151)
    return inside


def split(text, mark):
    """Parts of ``text`` between ``mark`` outside quotes."""
    if '"' not in text and "'" not in text:
        return text.split(mark)
    parts = []
    begin = 0
    quote = ""
    for at, letter in enumerate(text):
        if quote:
            if letter == quote:
                quote = ""
        elif letter in "\"'":
            quote = letter
        elif letter == mark:
            parts.append(text[begin:at])
            begin = at + 1
    parts.append(text[begin:])
    return parts


def header_keys(spec):
    """All short forms of a header, its optional nodes there or not."""
    start = spec.find("[")
    if start < 0:
        return [":".join([short(node) for node in spec.strip(":").split(":")])]
    end = spec.find("]", start)
    without = spec[:start] + spec[end + 1 :]
    within = spec[:start] + spec[start + 1 : end] + spec[end + 1 :]
    return header_keys(without) + header_keys(within)
