"""The command tree: a header, what answers it, how many arguments it takes; one line each.

What answers is a method of ``talk.Talk`` with no argument, with so many, with least to most, or with
a block. After ``=`` it is a part of Talk and the names of whole numbers of it, told as they stand.

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
*ESE set_ese 1
*ESE? =status ese
*ESR? get_esr
*IDN? identify
*OPC operation_complete
*OPC? is_complete
*RST reset
*SRE set_sre 1
*SRE? =status sre
*STB? get_stb
*TRG trigger
*TST? self_test
*WAI nothing
ABORt abort
CALibration:DATA set_calibration block
CALibration:DATA? get_calibration
CALibration:CRC? get_calibration_crc
CALibration:RANGe set_references 3
CALibration:RANGe? get_references
CALibration:OFFSet set_ohm_offset 1
CALibration:OFFSet? get_ohm_offset
DIAGnostic:CONFiguration? get_configuration
DIAGnostic:LATeness? get_lateness
DIAGnostic:LOOP? =player worst_late_ms late_steps steps_done missed
DIAGnostic:MAINtenance maintenance
DIAGnostic:MEASure measure 7
DIAGnostic:MEASure? =player measuring measure_on measure_off measure_count
DIAGnostic:MEMory? get_memory
DIAGnostic:RESet:CAUSe? get_reset_cause
DIAGnostic:TEST? get_test_text
FETCh[:STATe]? fetch
INITiate[:IMMediate][:ALL] initiate
MEASure[:SCALar]:VOLTage[:DC]? get_voltage
MEASure[:SCALar]:RESistance? get_ohms
OUTPut[:STATe] set_output 1
OUTPut[:STATe]? get_output
OUTPut:PROTection:CAUSe? get_cause
OUTPut:PROTection:CLEar clear_trip
OUTPut:PROTection:STATe? get_tripped
OUTPut:RETurn ease_back
OUTPut:RETurn:RATE set_return_rate 1
OUTPut:RETurn:RATE? =player return_rate
OUTPut:STANding set_standing 1
OUTPut:STANding? get_standing
OUTPut:STANding:EXTend extend_standing 1
SENSe:LINE:KIND set_line_kind 2
SENSe:LINE:KIND? get_line_kind 1
SENSe:LINE[:LEVel]? =player levels
SENSe:QUIet set_quiet 2
SENSe:QUIet? =player quiet_node quiet_ohm
SENSe:RESistance:HOT set_hot 1 2
SENSe:RESistance:HOT? get_hot
SENSe:RESistance:RANGe set_range 1 2
SENSe:RESistance:RANGe? =player range_real range_stand_in
SENSe:RESistance:SANE set_sane 2
SENSe:RESistance:SANE? =player sane_low sane_high
[SOURce]:CODE set_code 4 8
[SOURce]:CODE? =player w0 w1 w2 w3 hot
[SOURce]:CONTact set_contact 1 2
[SOURce]:CONTact? get_contact
[SOURce]:FOLLow[:STATe] set_follow 1 2
[SOURce]:FOLLow[:STATe]? =player following
[SOURce]:FOLLow:RATE set_follow_rate 1
[SOURce]:FOLLow:RATE? =player follow_rate
[SOURce]:LADDer:CRC? get_ladder_crc
[SOURce]:LADDer:DATA set_ladder block
[SOURce]:LADDer:POINts? =player rungs
[SOURce]:LIST:CRC? get_plan_crc
[SOURce]:LIST:DATA load_plan block
[SOURce]:LIST:DATA:APPend append_plan block
[SOURce]:LIST:FREE? get_plan_free
[SOURce]:LIST:NAME set_plan_name 1
[SOURce]:LIST:NAME? get_plan_name
[SOURce]:LIST:POINts? get_plan_points
[SOURce]:LIST:STORe store_plan
[SOURce]:LIST:RECall recall_plan
[SOURce]:RESistance[:LEVel][:IMMediate][:AMPLitude] set_resistance 1
[SOURce]:RESistance[:LEVel][:IMMediate][:AMPLitude]? get_resistance 0 1
[SOURce]:RESistance:LIMit:HIGH set_limit_high 1
[SOURce]:RESistance:LIMit:HIGH? get_limit_high
[SOURce]:RESistance:LIMit:LOW set_limit_low 1
[SOURce]:RESistance:LIMit:LOW? get_limit_low
STATus:OPERation:CONDition? =operation condition
STATus:OPERation:ENABle set_oper_enable 1
STATus:OPERation:ENABle? =operation enable
STATus:OPERation[:EVENt]? get_oper_event
STATus:PRESet preset_status
STATus:QUEStionable:CONDition? =questionable condition
STATus:QUEStionable:ENABle set_ques_enable 1
STATus:QUEStionable:ENABle? =questionable enable
STATus:QUEStionable[:EVENt]? get_ques_event
SYSTem:COMMunicate:TIMeout set_timeout 1
SYSTem:COMMunicate:TIMeout? get_timeout
SYSTem:ERRor:COUNt? get_error_count
SYSTem:ERRor[:NEXT]? get_error
SYSTem:HELP:HEADers? get_headers
SYSTem:VERSion? get_version
TRACe:CLEar clear_record
TRACe:DATA? get_record 0 1
TRACe:LOST? =ring lost
TRACe:POINts? get_record_points
TRACe:TIME? get_record_time
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
    """Finds what answers a header, and nodes."""

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

    def target(self, key):
        """What answers a header in short form, as its line says, or None."""
        line = self._lines.get(number_of(key))
        if line is None:
            return None
        start = TREE.find(" ", self._starts[line]) + 1
        return TREE[start : TREE.find("\n", start)]

    def headers(self):
        """All headers as written above."""
        return [line.split(" ")[0] for line in TREE.split("\n") if line]
