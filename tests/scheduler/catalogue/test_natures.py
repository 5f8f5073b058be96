"""What an object is beyond its place comes with every entry, from the row or from our tables."""

from __future__ import annotations

from scheduler.catalogue import look_up, ongc, tables
from scheduler.catalogue.deep_sky import NOTHING, WHAT, entry_of
from scheduler.domain import Extended, Kind, Pair, Target

ROWS = [row for row in ongc.rows() if row.type not in ("Dup", "NonEx") and row.ra_deg is not None]
REPLACED = {look_up(name).identity for name in tables.seen()}


def test_every_object_of_the_open_catalogue_has_the_nature_of_its_kind() -> None:
    for row in ROWS:
        entry = look_up(row.name)
        if row.type == "**" and row.name != "M040":
            assert entry.kind is Kind.DOUBLE_STAR
            assert entry.nature is None, "the open catalogue says no more of double stars"
        elif row.name != "M040":
            assert isinstance(entry.nature, Extended), row.name
            assert entry.nature.what == entry.what
            assert entry.kind is Kind.DEEP_SKY


def test_smaller_diameter_and_type_are_the_rows_own_where_no_table_of_ours_knows_better() -> None:
    typed = narrow = 0
    for row in ROWS:
        entry = look_up(row.name)
        if entry.identity in REPLACED or not isinstance(entry.nature, Extended):
            continue
        assert entry.what == WHAT[row.type]
        assert entry.size_arcmin == row.major_arcmin
        assert entry.nature.minor_arcmin == row.minor_arcmin
        assert entry.nature.hubble == (row.hubble or None)
        typed += entry.nature.hubble is not None
        narrow += entry.nature.minor_arcmin is not None
    assert typed > 10000
    assert narrow > 10000


def test_well_known_shapes() -> None:
    andromeda = look_up("M 31").nature
    assert andromeda == Extended("galaxy", minor_arcmin=69.66, hubble="Sb")
    assert look_up("M 11").nature == Extended("open cluster", stars=150)
    dumbbell = look_up("Dumbbell Nebula")
    assert dumbbell.size_arcmin == 8.0
    assert dumbbell.nature == Extended("planetary nebula", minor_arcmin=5.7)


def test_a_double_star_has_both_magnitudes_and_where_the_fainter_stands() -> None:
    albireo = look_up("Albireo")
    assert albireo.nature == Pair(3.2, 4.7, 34.6, 54.0)
    assert albireo.size_arcmin == 0.577
    for piece in tables.doubles():
        pair = piece.entry.nature
        assert isinstance(pair, Pair)
        assert piece.entry.magnitude is not None
        assert piece.entry.magnitude <= pair.bright_mag
        assert pair.bright_mag <= pair.faint_mag + 0.11


def test_a_pair_of_diameters_replaces_both_of_the_catalogues() -> None:
    row = next(row for row in ROWS if row.name == "NGC1952")
    entry = entry_of(row, "NGC 1952", tables.Seen(major_arcmin=5.0))
    assert entry.size_arcmin == 5.0
    assert isinstance(entry.nature, Extended)
    assert entry.nature.minor_arcmin is None, "not 5.0 by the catalogue's 4.0"
    untouched = entry_of(row, "NGC 1952", NOTHING)
    assert (untouched.size_arcmin, untouched.magnitude) == (row.major_arcmin, row.v_mag)


def test_every_showpiece_and_double_makes_a_target() -> None:
    pieces = [piece.entry for piece in (*tables.showpieces(), *tables.doubles())]
    for entry in [*(look_up(name) for name in tables.seen()), *pieces]:
        target = Target(
            entry.name, entry.kind, entry.ra_deg, entry.dec_deg, constellation=entry.constellation,
            magnitude=entry.magnitude, size_arcmin=entry.size_arcmin, nature=entry.nature,
        )  # fmt: skip
        assert target.nature == entry.nature
