"""Sends back what comes in until it has seen "quit"; by the firmware's own port."""

from drivers.usb import Port

port = Port()
seen = b""
while not seen.endswith(b"quit"):
    data = port.take()
    assert isinstance(data, bytes)  # what the engine's framing wants; a view has no find()
    if data:
        seen += data
        port.send(data)
    while port.push():
        pass
    if not data:
        port.wait(1)
