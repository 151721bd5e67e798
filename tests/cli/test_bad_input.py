"""Bad input gets one clear line, exit code 2 (or 1 where it can't be done), and changes nothing."""

import shlex

import pytest


@pytest.fixture
def refused(run, here):
    """Run what must be refused; return its exit code and its one line, nothing else printed or changed."""

    def go(*arguments):
        before = {path: path.read_bytes() for path in here.rglob("*") if path.is_file()}
        folders = {path for path in here.rglob("*") if path.is_dir()}
        code, text, errors = run(*arguments)
        assert text == ""
        assert errors.startswith("groovewright: ")
        assert errors.count("\n") == 1
        assert "Traceback" not in errors
        assert {path: path.read_bytes() for path in here.rglob("*") if path.is_file()} == before
        assert {path for path in here.rglob("*") if path.is_dir()} == folders
        return code, errors

    return go


@pytest.mark.parametrize("command", ["geometry", "square --round 0 0", "sheet --out s.pdf"])
@pytest.mark.parametrize(
    ("length", "words"),
    [
        ("-222", "is -222 mm; allowed is 120 mm to 500 mm"),
        ("0", "is 0 mm; allowed is 120 mm to 500 mm; the nearest that works is 120 mm"),
        ("nan", "not a finite number"),
        ("inf", "not a finite number"),
        ("1e9", "the nearest that works is 500 mm"),
        ("9", "Is 9 in inches? That would be 228.6 mm"),
        ("0.23", "Is 0.23 in metres? That would be 230 mm"),
        ("22.2", "Is 22.2 in centimetres? That would be 222 mm"),
        ("222mm", "'222mm'"),
    ],
)
def test_a_length_that_no_arm_has_is_refused(refused, command, length, words):
    code, line = refused(*shlex.split(command), "--pivot-to-spindle", length)
    assert code == 2
    assert words in line


@pytest.mark.parametrize(
    ("options", "code", "words"),
    [
        ("--grooves 146:60", 2, "the wrong way round: the innermost radius comes first; try 60:146"),
        ("--grooves 60:60", 2, "narrower than 1 mm"),
        ("--grooves 0:146", 2, "innermost groove: groove radius is 0 mm"),
        ("--grooves -5:146", 2, "innermost groove"),
        ("--grooves nan:146", 2, "not a finite number"),
        ("--grooves 60:9999", 2, "the nearest that works is 210 mm"),
        ("--grooves 2.4:5.75", 2, "Is 2.4 in inches?"),
        ("--grooves 0.06:0.146", 2, "Is 0.06 in metres?"),
        ("--grooves lpp", 2, "did you mean 'lp'?"),
        ("--grooves 60", 2, "INNER:OUTER"),
        ("--grooves 60:100:146", 2, "is not INNER:OUTER in mm"),
        ("--nulls 120:66", 2, "the wrong way round: the inner one comes first; try 66:120"),
        ("--nulls 66", 2, "--nulls '66' is not two numbers such as 66.0:120.9"),
        ("--nulls 0:120", 2, "inner null: groove radius is 0 mm"),
        ("--nulls 66:900", 2, "outer null: groove radius is 900 mm"),
        ("--nulls nan:nan", 2, "not a finite number"),
        ("--criterion lofgren", 2, "'lofgren-a', 'lofgren-b'"),
        ("--velocity 0", 2, "peak recorded velocity is 0 cm/s"),
        ("--velocity nan", 2, "not a finite number"),
        ("--speed 34", 2, "'33', '45', '78'"),
        ("--plot s.gif", 2, "svg"),
        ("--plot nowhere/s.svg", 2, "can't be written"),
    ],
)
def test_radii_and_settings_that_make_no_sense_are_refused(refused, options, code, words):
    found, line = refused("geometry", "--pivot-to-spindle", "222", *shlex.split(options))
    assert found == code
    assert words in line


def test_geometry_that_no_arm_can_reach_is_refused(refused):
    code, line = refused("geometry", "--pivot-to-spindle", 120, "--grooves", "20:210")
    assert code == 2
    assert "can't be aligned over 20:210 mm" in line


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ("", "--round OUTER INNER is missing"),
        ("--round 0.1", "--round"),
        ("--round 0 0 --round 0 0", "--moved 0 0 where nothing was touched"),
        ("--round 0 0 --moved 1 1 --moved 1 1", "1 --round and 2 --moved don't fit"),
        ("--round nan 0", "--round 1 outer: yaw is nan"),
        ("--round 0 0 --moved 0 0 --round 0 90", "--round 2 inner: yaw is 90 deg"),
        ("--round squar 0", "did you mean 'square'?"),
        ("--round 0 0 --moved 99 0", "slide is 99 mm; allowed is -20 mm to 20 mm"),
        ("--round 0 0 --moved 0 nan", "turn is nan"),
        ("--round 0 0 --reading-sd -1", "standard uncertainty of a reading is -1 deg"),
        ("--round 0 0 --move-sd 0.1 nan", "standard uncertainty of a turn is nan"),
        ("--round 0 0 --pivot-to-spindle-sd -1", "standard uncertainty of the pivot-to-spindle distance"),
        ("--round 0 0 --tolerance-deg 0", "the nearest that works is 0.001 deg"),
        ("--round 0 0 --slot-angle 90", "slot angle is 90 deg"),
        ("--round 0 0 --holes-to-stylus 0.5", "Is 0.5 in inches?"),
        ("--round 0 0 --room 1", "is not two numbers such as 4:3.5"),
        ("--round 0 0 --room -1:2", "allowed is 0 or more"),
        ("--round 0 0 --nulls 100:105", "two nulls at least 15 mm apart"),
    ],
)
def test_looks_and_moves_that_make_no_sense_are_refused(refused, options, words):
    code, line = refused("square", "--pivot-to-spindle", "222", *shlex.split(options))
    assert code == 2
    assert words in line


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ("--flash-hz 0 --out s.svg", "lamp flashes is 0 in a second"),
        ("--flash-hz nan --out s.svg", "not a finite number"),
        ("--mains-hz 55 --out s.svg", "'50', '60'"),
        ("--mains-hz 50 --flash-hz 100 --out s.svg", "are both given"),
    ],
)
def test_lamps_that_there_are_none_of_are_refused(refused, options, words):
    code, line = refused("stroboscope", *shlex.split(options))
    assert code == 2
    assert words in line


SHEET = ("sheet", "--pivot-to-spindle", 222, "--out")


def test_a_path_that_runs_through_a_file_is_refused(refused, here, demo_job):
    (here / "file").write_text("mine")
    (here / "job.toml").write_bytes(demo_job)
    for arguments in (
        (*SHEET, "file/sheet.pdf"),
        ("geometry", "--pivot-to-spindle", 222, "--plot", "file/plot.svg"),
        ("plan", "job.toml", "--out", "file"),
        ("plan", "job.toml", "--out", "file/deeper"),
        ("demo", "--out", "file"),
        ("plan", "file/job.toml"),
    ):
        code, line = refused(*arguments)
        assert code == 2
        assert "file" in line


def test_a_folder_that_is_not_there_or_can_not_be_written_to_is_refused(refused, here):
    code, line = refused(*SHEET, "nowhere/sheet.pdf")
    assert (code, "nowhere/sheet.pdf can't be written" in line) == (2, True)
    # the process information of the kernel takes no files, not even from the administrator
    code, line = refused(*SHEET, "/proc/sheet.pdf")
    assert (code, "/proc/sheet.pdf can't be written" in line) == (2, True)
    code, line = refused("demo", "--out", "/proc/papers")
    assert (code, "/proc/papers can't be made" in line) == (2, True)
    code, line = refused(*SHEET, "x" * 300 + ".pdf")
    assert (code, "can't be written" in line) == (2, True)


def test_a_folder_where_a_file_is_meant_is_refused_even_by_force(refused, here):
    (here / "sheet.pdf").mkdir()
    for force in ((), ("--force",)):
        code, line = refused(*SHEET, "sheet.pdf", *force)
        assert code == 2
        assert "sheet.pdf" in line
    code, line = refused("plan", ".")
    assert code == 2
    assert "directory" in line


def test_an_existing_file_is_replaced_only_by_force(run, refused, here):
    out = here / "sheet.svg"
    out.write_text("mine")
    code, line = refused(*SHEET, out)
    assert code == 2
    assert "exists and was left as it is; add --force" in line
    assert run(*SHEET, out, "--force")[0] == 0
    assert out.read_text() != "mine"
    assert [path.name for path in here.iterdir()] == ["sheet.svg"]


CONTENTS = {
    "empty": (b"", "is empty; a job needs at least [arm]"),
    "blank": (b" \n\n\t\n", "is empty"),
    "binary": (bytes(range(256)), "is not text (byte 128 is not UTF-8)"),
    "utf-16": ("[arm]\n".encode("utf-16"), "is not text"),
    "zero bytes": (b"\x00" * 50, "can't be read as TOML"),
    "too large": (b"#" * 1_000_001, "1,000,001 bytes"),
    "no table": (b"arm = 3\n", "[arm]"),
    "too deep": (b"x = " + b"[" * 20_000, "job.toml"),
    "unknown section": (b"[amr]\n", "there is no section [amr]; did you mean [arm]?"),
    "nothing near": (b"[zzzz]\n", "known are job, deck, arm"),
    "unknown key": (
        b"[arm]\npivot_to_spindel_mm = 222.0\n",
        "line 1, [arm]: there is no key 'pivot_to_spindel_mm'; did you mean 'pivot_to_spindle_mm'?",
    ),
    "unknown word": (b"[arm]\nkind = 'pivotted'\n", "[arm], kind: 'pivotted' is not known"),
    "a text for a number": (b"[arm]\npivot_to_spindle_mm = '222'\n", "is '222', not a number"),
    "a yes for a number": (b"[arm]\npivot_to_spindle_mm = true\n", "not a number"),
    "a number for a text": (b"[arm]\nname = 9\n", "not a text; write it in quotation marks"),
    "inches": (
        b"\n\n[arm]\npivot_to_spindle_mm = 9\n",
        "job.toml, line 3, [arm], pivot_to_spindle_mm: pivot-to-spindle distance is 9 mm; allowed is 120 mm to "
        "500 mm. Is 9 in inches?",
    ),
    "not a number": (b"[arm]\npivot_to_spindle_mm = nan\n", "not a finite number"),
    "a duplicate": (b"[arm]\nname = 'a'\nname = 'b'\n", "line 3"),
    "a step of two": (
        b"[[step]]\nlook = {outer = 0}\nmoved = {slide_mm = 1, turn_deg = 0}\n",
        "step 1: one step is one line",
    ),
    "a step in one bracket": (b"[step]\nlook = {outer = 0}\n", "[[step]]"),
    "an unknown step": (b"[[step]]\nlok = {outer = 0}\n", "there is no step 'lok'; did you mean 'look'?"),
    "half a move": (b"[[step]]\nmoved = {slide_mm = 1}\n", "step 1, moved: turn_deg missing"),
    "an unknown yaw": (b"[[step]]\nlook = {outer = 'sqare'}\n", "did you mean 'square'?"),
    "one null": (b"[arm]\npivot_to_spindle_mm = 222\n[aim]\nnull_inner_mm = 66\n", "give both"),
    "a range upside down": (
        b"[cartridge_in]\nforce_min_gf = 2.0\nforce_max_gf = 1.5\n",
        "job.toml, line 1, [cartridge_in]",
    ),
    "an escape in a key": (b'["a\\nb\\u001b"]\n', "there is no section [a b ]"),
}


@pytest.mark.parametrize("what", CONTENTS)
def test_a_job_file_that_can_not_be_meant_is_refused(refused, here, what):
    content, words = CONTENTS[what]
    (here / "job.toml").write_bytes(content)
    code, line = refused("plan", "job.toml", "--out", "papers")
    assert code == 2
    assert words in line
    assert "\x1b" not in line


def test_a_job_file_that_is_cut_off_in_a_value_is_refused(refused, here, demo_job):
    for ending in (b'title = "New', b"speeds_rpm = [33.333", b"[cartridge_i", b"look = { outer = 0.1"):
        cut = demo_job[: demo_job.index(ending) + len(ending)]
        (here / "job.toml").write_bytes(cut)
        code, line = refused("plan", "job.toml")
        assert code == 2
        assert "is it cut off" in line


def test_a_job_file_that_is_not_there_is_named(refused, here):
    code, line = refused("plan", "jobb.toml")
    assert code == 2
    assert "jobb.toml can't be read: No such file" in line


def test_an_interrupted_write_leaves_nothing_behind(run, here, monkeypatch):
    def stop(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr("pathlib.Path.replace", stop)
    code, text, _ = run(*SHEET, "sheet.svg")
    assert (code, text) == (130, "")
    assert list(here.iterdir()) == []
