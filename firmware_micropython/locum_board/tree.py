"""The command tree: header, method of ``talk.Talk`` that answers it; one line each.

Upper case is the short form, brackets are optional nodes. SYSTem:HELP:HEADers? lists it and
firmware_micropython/README.md explains it; a test holds the three together.

Looked up by number, not by text: of every header's short forms a check sum of 30 bits is kept with
its line (a test sees to it that no two agree), which takes a fraction of the memory of a dictionary of strings.
"""

import binascii
from array import array

from .words import header_keys, short

TREE = """\
*CLS clear_status
*ESE set_ese
*ESE? get_ese
*ESR? get_esr
*IDN? identify
*OPC operation_complete
*OPC? is_complete
*RST reset
*SRE set_sre
*SRE? get_sre
*STB? get_stb
*TRG trigger
*TST? self_test
*WAI nothing
ABORt abort
CALibration:DATA set_calibration
CALibration:DATA? get_calibration
CALibration:CRC? get_calibration_crc
CALibration:RANGe set_references
CALibration:RANGe? get_references
CALibration:OFFSet set_ohm_offset
CALibration:OFFSet? get_ohm_offset
DIAGnostic:CONFiguration? get_configuration
DIAGnostic:LATeness? get_lateness
DIAGnostic:LOOP? get_loop
DIAGnostic:MAINtenance maintenance
DIAGnostic:MEASure measure
DIAGnostic:MEASure? get_measured
DIAGnostic:MEMory? get_memory
DIAGnostic:RESet:CAUSe? get_reset_cause
DIAGnostic:TEST? get_test_text
FETCh[:STATe]? fetch
INITiate[:IMMediate][:ALL] initiate
MEASure[:SCALar]:VOLTage[:DC]? get_voltage
MEASure[:SCALar]:RESistance? get_ohms
OUTPut[:STATe] set_output
OUTPut[:STATe]? get_output
OUTPut:PROTection:CAUSe? get_cause
OUTPut:PROTection:CLEar clear_trip
OUTPut:PROTection:STATe? get_tripped
OUTPut:RETurn ease_back
OUTPut:RETurn:RATE set_return_rate
OUTPut:RETurn:RATE? get_return_rate
OUTPut:STANding set_standing
OUTPut:STANding? get_standing
OUTPut:STANding:EXTend extend_standing
SENSe:LINE:KIND set_line_kind
SENSe:LINE:KIND? get_line_kind
SENSe:LINE[:LEVel]? get_levels
SENSe:QUIet set_quiet
SENSe:QUIet? get_quiet
SENSe:RESistance:HOT set_hot
SENSe:RESistance:HOT? get_hot
SENSe:RESistance:RANGe set_range
SENSe:RESistance:RANGe? get_range
SENSe:RESistance:SANE set_sane
SENSe:RESistance:SANE? get_sane
[SOURce]:CODE set_code
[SOURce]:CODE? get_code
[SOURce]:CONTact set_contact
[SOURce]:CONTact? get_contact
[SOURce]:FOLLow[:STATe] set_follow
[SOURce]:FOLLow[:STATe]? get_follow
[SOURce]:FOLLow:RATE set_follow_rate
[SOURce]:FOLLow:RATE? get_follow_rate
[SOURce]:LADDer:CRC? get_ladder_crc
[SOURce]:LADDer:DATA set_ladder
[SOURce]:LADDer:POINts? get_ladder_points
[SOURce]:LIST:CRC? get_plan_crc
[SOURce]:LIST:DATA load_plan
[SOURce]:LIST:DATA:APPend append_plan
[SOURce]:LIST:FREE? get_plan_free
[SOURce]:LIST:NAME set_plan_name
[SOURce]:LIST:NAME? get_plan_name
[SOURce]:LIST:POINts? get_plan_points
[SOURce]:LIST:STORe store_plan
[SOURce]:LIST:RECall recall_plan
[SOURce]:RESistance[:LEVel][:IMMediate][:AMPLitude] set_resistance
[SOURce]:RESistance[:LEVel][:IMMediate][:AMPLitude]? get_resistance
[SOURce]:RESistance:LIMit:HIGH set_limit_high
[SOURce]:RESistance:LIMit:HIGH? get_limit_high
[SOURce]:RESistance:LIMit:LOW set_limit_low
[SOURce]:RESistance:LIMit:LOW? get_limit_low
STATus:OPERation:CONDition? get_oper_condition
STATus:OPERation:ENABle set_oper_enable
STATus:OPERation:ENABle? get_oper_enable
STATus:OPERation[:EVENt]? get_oper_event
STATus:PRESet preset_status
STATus:QUEStionable:CONDition? get_ques_condition
STATus:QUEStionable:ENABle set_ques_enable
STATus:QUEStionable:ENABle? get_ques_enable
STATus:QUEStionable[:EVENt]? get_ques_event
SYSTem:COMMunicate:TIMeout set_timeout
SYSTem:COMMunicate:TIMeout? get_timeout
SYSTem:ERRor:COUNt? get_error_count
SYSTem:ERRor[:NEXT]? get_error
SYSTem:HELP:HEADers? get_headers
SYSTem:VERSion? get_version
TRACe:CLEar clear_record
TRACe:DATA? get_record
TRACe:LOST? get_lost
TRACe:POINts? get_record_points
TRIGger[:SEQuence][:IMMediate] trigger
"""


def number_of(text):
    """A header's or node's 30-bit check sum."""
    return binascii.crc32(text.encode()) & 0x3FFFFFFF


class Numbers:
    """Check sum -> small number, in two sorted arrays: five bytes an entry."""

    def __init__(self):
        self.keys = array("i")
        self.values = bytearray()

    def place(self, key):
        """Where ``key`` is, or would be."""
        low = 0
        high = len(self.keys)
        while low < high:
            middle = (low + high) >> 1
            if self.keys[middle] < key:
                low = middle + 1
            else:
                high = middle
        return low

    def put(self, key, value):
        at = self.place(key)
        if at < len(self.keys) and self.keys[at] == key:
            self.values[at] = value
            return
        self.keys.append(0)
        self.values.append(0)
        for index in range(len(self.keys) - 1, at, -1):
            self.keys[index] = self.keys[index - 1]
            self.values[index] = self.values[index - 1]
        self.keys[at] = key
        self.values[at] = value

    def get(self, key):
        """The number, or None."""
        at = self.place(key)
        if at < len(self.keys) and self.keys[at] == key:
            return self.values[at]
        return None


class Tree:
    """Finds methods and nodes."""

    def __init__(self):
        self._starts = array("H")
        self._lines = Numbers()
        self._nodes = Numbers()
        at = 0
        while at < len(TREE):
            end = TREE.find("\n", at)
            spec = TREE[at : TREE.find(" ", at)]
            for key in header_keys(spec):
                self._lines.put(number_of(key), len(self._starts))
            if spec[0] != "*":
                self._add_nodes(spec)
            self._starts.append(at)
            at = end + 1

    def _add_nodes(self, spec):
        for node in spec.replace("[", "").replace("]", "").replace("?", "").split(":"):
            brief = short(node)
            self._nodes.put(number_of(node.upper()), len(brief))
            self._nodes.put(number_of(brief), len(brief))

    def brief(self, node):
        """Short form of a node in either form, or None. Short forms are the long ones' beginnings."""
        length = self._nodes.get(number_of(node))
        return None if length is None else node[:length]

    def method(self, key):
        """Name of the method for a header in short form, or None."""
        line = self._lines.get(number_of(key))
        if line is None:
            return None
        start = TREE.find(" ", self._starts[line]) + 1
        return TREE[start : TREE.find("\n", start)]

    def headers(self):
        """All headers as written above."""
        return [line.split(" ")[0] for line in TREE.split("\n") if line]
