"""Commands of the casebook: ``locum case`` and ``locum drive``."""

from __future__ import annotations

from locum.cli_options import (
    AUTHOR,
    BOARD,
    CASE,
    CASEBOOK,
    MODULE,
    SENSOR,
    TIME_COLUMN,
    Command,
    number,
    option,
    whole,
)

CASEBOOK_COMMANDS: tuple[Command, ...] = (
    Command("case", "open, search, fill, weigh and report cases", children=(
        Command("new", "open a case", "locum.jobs.cases:new", (
            option("title", metavar="TITLE", help="a few words"),
            option("--complaint", default="", metavar="WORDS", help="in the customer's words"),
            option("--vehicle", metavar="V", help="vehicle sheet"),
            SENSOR, MODULE, CASEBOOK)),
        Command("list", "list all cases", "locum.jobs.cases:listing", (CASEBOOK,)),
        Command("find", "search cases by words, by signature, or both", "locum.jobs.likeness:find", (
            option("words", nargs="*", metavar="WORDS", help="symptom, vehicle, part, cause"),
            option("--family", default="", metavar="F", help="vehicle family"),
            option("--component", default="", metavar="C", help="suspected part"),
            option("--cause", default="", metavar="C", help="cause found"),
            option("--towards", choices=("cold", "hot"), help="direction of the glitches"),
            option("--length", type=number, nargs="+", metavar="MS", help="length of the glitches, one number or shortest and longest"),
            option("--threshold", type=number, nargs="+", metavar="T", help="change point of the module in degC, one number or lowest and highest"),
            option("--after", type=number, nargs="+", metavar="MIN", help="minutes after start from which it shows"), CASEBOOK)),
        Command("show", "show one case", "locum.jobs.cases:show", (option("id", metavar="ID", help="case"), CASEBOOK)),
        Command("weigh", "weigh the evidence: the verdict as it stands", "locum.jobs.cases:weigh", (
            option("id", metavar="ID", help="case"), CASEBOOK)),
        Command("note", "add a finding or a note", "locum.jobs.cases:note", (
            option("id", metavar="ID", help="case"), option("words", nargs="+", metavar="WORDS", help="what was seen or done"),
            option("--kind", choices=("note", "defect", "repair", "hand_back"), default="note", help="what it is"),
            AUTHOR, CASEBOOK)),
        Command("set", "set fields of a case: vehicle, tap and pins, rule, readings", "locum.jobs.case_fields:put", (
            option("id", metavar="ID", help="case"),
            option("fields", nargs="+", metavar="FIELD=VALUE", help="such as tap.pins.sensor=14 or module_readings.open=5.02V; nothing after = takes one back"), AUTHOR, CASEBOOK)),
        Command("attach", "file a recording made without a case", "locum.jobs.cases:attach", (
            option("id", metavar="ID", help="case"), option("drive", metavar="DRIVE", help="recording"), CASEBOOK)),
        Command("enclose", "keep photos, scans or other files with a case", "locum.jobs.case_pages:enclose", (
            option("id", metavar="ID", help="case"), option("files", nargs="+", metavar="FILE", help="what to keep"),
            option("--drive", metavar="DRIVE", help="recording it belongs to"),
            option("--note", default="", metavar="WORDS", help="what it shows"), AUTHOR, CASEBOOK)),
        Command("similar", "tell what cases like this one turned out to be", "locum.jobs.likeness:similar", (
            option("id", metavar="ID", help="case"),
            option("--family", action="store_true", help="only the same vehicle family"), CASEBOOK)),
        Command("signature", "note direction and lengths of the glitches, to be found by", "locum.jobs.likeness:signature", (
            option("id", metavar="ID", help="case"), CASEBOOK)),
        Command("hand-back", "show the hand-back list, or tick a line of it", "locum.jobs.handover:hand_back", (
            option("id", metavar="ID", help="case"),
            option("item", nargs="?", metavar="ITEM", help="device_removed, codes_cleared, relearn_done, customer_told or follow_up_set"),
            option("--undo", action="store_true", help="take the tick back"),
            option("--note", default="", metavar="WORDS", help="of follow_up_set: the date agreed"), AUTHOR, CASEBOOK)),
        Command("follow-up", "add what the customer told on a call", "locum.jobs.handover:follow_up", (
            option("id", metavar="ID", help="case"),
            option("--hours", type=number, required=True, metavar="H", help="hours driven that meet the case's rule"),
            option("--kick-outs", type=whole, required=True, metavar="N", help="how often the fault was felt in them"),
            option("--not-counted", action="store_true", help="the rule was not met, or nobody would have noticed"),
            option("--note", default="", metavar="WORDS", help="what else was told"), AUTHOR, CASEBOOK)),
        Command("identity", "keep who the vehicle belongs to, apart from the case", children=(
            Command("show", "show it", "locum.jobs.handover:identity_show", (option("id", metavar="ID", help="case"), CASEBOOK)),
            Command("set", "keep it", "locum.jobs.handover:identity_set", (
                option("id", metavar="ID", help="case"),
                option("fields", nargs="+", metavar="FIELD=VALUE", help="owner, name, plate, vin, phone, email, address; nothing after = takes one back"), CASEBOOK)),
            Command("erase", "take it out for good; the technical case stays", "locum.jobs.handover:identity_erase", (
                option("id", metavar="ID", help="case"), AUTHOR, CASEBOOK)),
        )),
        Command("close", "close a case", "locum.jobs.handover:close", (
            option("id", metavar="ID", help="case"), option("--why", default="", metavar="WORDS", help="how it ended"), AUTHOR, CASEBOOK)),
        Command("reopen", "open a case again", "locum.jobs.handover:reopen", (
            option("id", metavar="ID", help="case"), option("--why", default="", metavar="WORDS", help="what came back"),
            option("--see", default="", metavar="ID", help="another case it belongs to"), AUTHOR, CASEBOOK)),
        Command("report", "write the case's page", "locum.jobs.case_pages:report", (
            option("id", metavar="ID", help="case"), option("--out", metavar="FILE", help="where to"),
            option("--for", dest="reader", choices=("workshop", "customer"), default="workshop", help="whom the page is for"), CASEBOOK)),
        Command("export", "write a case as a folder of plain files", "locum.jobs.case_pages:export", (
            option("id", metavar="ID", help="case"), option("--out", required=True, metavar="DIR", help="folder to put it into, or a new FILE.zip"),
            option("--identity", action="store_true", help="include the owner's data"), CASEBOOK)),
        Command("import", "read an exported case", "locum.jobs.case_pages:import_", (
            option("source", metavar="DIR", help="exported folder or .zip"), CASEBOOK)),
        Command("check", "check that the casebook is whole", "locum.jobs.casebook_care:check", (CASEBOOK,)),
        Command("rescue", "save what can be read of a damaged casebook", "locum.jobs.casebook_care:rescue", (
            option("damaged", metavar="FILE", help="the damaged casebook; it is not changed"),
            option("--out", required=True, metavar="FILE", help="new casebook to write"))),
        Command("merge", "bring in everything of another casebook", "locum.jobs.casebook_care:merge", (
            option("other", metavar="FILE", help="the other casebook; it is only read"),
            option("--identity", action="store_true", help="also the owners' data"), CASEBOOK)),
        Command("backup", "copy the casebook safely", "locum.jobs.casebook_care:backup", (
            option("--out", required=True, metavar="FILE", help="where to"), CASEBOOK)),
    )),
    Command("drive", "list, show, review and export recordings", children=(
        Command("list", "list all recordings", "locum.jobs.drives:listing", (CASE, CASEBOOK)),
        Command("show", "show one recording", "locum.jobs.drives:show", (
            option("id", metavar="DRIVE", help="recording"), CASEBOOK)),
        Command("fetch", "take over what the board kept while no computer was there", "locum.jobs.kept_on_board:fetch", (
            option("id", nargs="?", metavar="DRIVE", help="recording it went on with (without: the last one of this board)"), BOARD, CASEBOOK)),
        Command("review", "review it again with this version", "locum.jobs.drives:review", (
            option("id", metavar="DRIVE", help="recording"), CASEBOOK)),
        Command("log", "lay another logger's CSV beside a recording", "locum.jobs.drive_logs:log", (
            option("drive", metavar="DRIVE", help="recording"), option("file", metavar="FILE.csv", help="its time, and a speed or throttle"),
            option("--offset", type=number, metavar="S", help="our time at the log's first row (without: found where both saw the same)"),
            option("--ours", choices=("throttle", "brake"), help="what of ours to compare (without: whatever matches best)"),
            option("--theirs", metavar="NAME", help="column of theirs that follows the same"),
            TIME_COLUMN,
            option("--unit", dest="units", action="append", default=[], metavar="COLUMN=UNIT", help="where the file does not tell it"),
            option("--lets-go-below", type=number, metavar="KMH", help="speed below which the module lets go by design"), AUTHOR, CASEBOOK)),
        Command("export", "write one as CSV, every column described", "locum.jobs.drives:export", (
            option("id", metavar="DRIVE", help="recording"),
            option("--out", required=True, metavar="DIR", help="folder to make"), CASEBOOK)),
    )),
)  # fmt: skip
