"""The table of outcomes through pandas: what one program writes another reads, and what pandas writes comes back."""

import json

import pandas

import desk
import packets
from treated import CASE

WHOLE = ["bother_before_0_to_10", "bother_after_0_to_10"]


def table():
    return pandas.read_csv(packets.root() / "outcomes.csv")


def test_every_outcome_stands_in_the_table():
    rows, told = table(), packets.table("outcomes.json")
    assert rows.groupby(["case", "visit", "date"]).ngroups == len(told) > 500
    by_key = rows.drop_duplicates(["case", "visit", "date"]).set_index(["case", "visit", "date"])
    for one in told:
        row, outcome = by_key.loc[(one["case"], one["outcome"]["visit"], one["outcome"]["on"])], one["outcome"]
        assert row["pressure_mmhg"] == outcome["pressure_mmhg"] and row["acuity"] == outcome["acuity"]
        assert row["change"] == outcome["change"] and row["bother_after_0_to_10"] == outcome["bother_after"]


def test_dates_and_numbers_have_their_types():
    rows = table()
    assert pandas.to_datetime(rows["date"], format="%Y-%m-%d").notna().all()
    assert rows["pressure_mmhg"].between(1, 80).all() and rows[WHOLE].stack().between(0, 10).all()
    events = rows[rows["event_kind"].notna()]
    assert len(events) > 2 and (pandas.to_datetime(events["event_date"]) <= pandas.to_datetime(events["date"])).all()


def test_what_pandas_writes_is_taken_in_once(tmp_path):
    """Decimals where whole numbers stood, lines of another order, one line spoiled."""
    made = desk.practice(tmp_path)
    (tmp_path / "case.json").write_text(json.dumps(CASE))
    assert desk.program("import", "-p", made, tmp_path / "case.json").returncode == 0
    rows = table()[:3].assign(case="T-1", visit=["week", "month", "other"], date=["2026-01-16", "2026-02-09", "2026-02-30"])
    rows[WHOLE] = rows[WHOLE].astype(float)
    rows.iloc[::-1].to_csv(tmp_path / "table.csv", index=False)
    first, second = (desk.program("outcomes", "import", "-p", made, "--by", desk.SURGEON, tmp_path / "table.csv") for _ in "12")
    assert first.returncode == second.returncode == 2 and "table.csv:2: date:" in first.stderr, first.stderr
    assert "taken in: 2;" in first.stderr and "taken in: 0; there already: 2;" in second.stderr, second.stderr
    given = desk.program("outcomes", "export", "-p", made)
    (tmp_path / "given.csv").write_text(given.stdout)
    assert sorted(pandas.read_csv(tmp_path / "given.csv")["visit"]) == ["month", "week"]
