"""Whatever loads gets through: frames with strange but legal numbers end in finite answers, never in a traceback."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from framekit import SAMPLE_READINGS, SAMPLE_TOML, write_frame
from framevis.cli import main

NUMBERS = [match.span() for match in re.finditer(r"(?<== )-?\d+(\.\d+)?", SAMPLE_TOML)]
FACTORS = st.sampled_from([0.0, -1.0, 1e-6, 1e-3, 0.1, 0.5, 0.9, 1.1, 2.0, 10.0, 1e3, 1e6, 1e300])


def run(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, *words: str) -> tuple[int, str, str]:
    monkeypatch.setattr("sys.argv", ["framevis", *words])
    code = 0
    try:
        main()
    except SystemExit as end:
        code = int(end.code or 0)
    out, err = capsys.readouterr()
    return code, out, err


def check(code: int, out: str, err: str) -> None:
    assert code in (0, 2)
    if code == 2:
        assert out == ""
        assert all(line.startswith("framevis: ") for line in err.splitlines())
        assert err
    else:
        json.loads(out, parse_constant=lambda name: pytest.fail(f"{name} in the JSON"))


several = settings(
    max_examples=60,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)


@several
@given(changes=st.lists(st.tuples(st.integers(0, len(NUMBERS) - 1), FACTORS), min_size=1, max_size=3))
def test_strange_numbers_in_the_frame(tmp_path_factory, capsys, monkeypatch, changes) -> None:
    text = SAMPLE_TOML
    for index, factor in sorted(set(changes), reverse=True):
        start, stop = NUMBERS[index]
        text = text[:start] + repr(float(SAMPLE_TOML[start:stop]) * factor) + text[stop:]
    folder = write_frame(tmp_path_factory.mktemp("fuzz"), text)
    check(*run(capsys, monkeypatch, "assess", str(folder), "--stage", "as_found", "--json", "--draws", "20"))


@several
@given(
    sweep=st.sampled_from(sorted(SAMPLE_READINGS["as_found"])),
    position=st.integers(0, 400),
    put=st.one_of(st.text(max_size=3), st.sampled_from(["", ",", ";", "1e9", "-", "\n", "\x00", "nan", "0"])),
    cut=st.integers(0, 6),
)
def test_strange_readings(tmp_path_factory, capsys, monkeypatch, sweep, position, put, cut) -> None:
    readings = {stage: dict(sweeps) for stage, sweeps in SAMPLE_READINGS.items()}
    text = readings["as_found"][sweep]
    at = position % len(text)
    readings["as_found"][sweep] = text[:at] + put + text[at + cut :]
    folder = write_frame(tmp_path_factory.mktemp("fuzz"), SAMPLE_TOML, {})
    for stage, sweeps in readings.items():
        (folder / "readings" / stage).mkdir(parents=True, exist_ok=True)
        for name, csv in sweeps.items():
            (folder / "readings" / stage / f"{name}.csv").write_text(csv, encoding="utf-8", errors="replace")
    check(*run(capsys, monkeypatch, "assess", str(folder), "--stage", "as_found", "--json", "--draws", "20"))


@pytest.mark.parametrize("content", [b"", b"\x00\xff\xfe" * 50, b"format = 1", SAMPLE_TOML.encode()[:700]])
def test_a_spoilt_frame_file(content: bytes, tmp_path: Path, capsys, monkeypatch) -> None:
    (tmp_path / "frame.toml").write_bytes(content)
    code, out, err = run(capsys, monkeypatch, "assess", str(tmp_path))
    assert (code, out) == (2, "")
    assert "frame.toml" in err
