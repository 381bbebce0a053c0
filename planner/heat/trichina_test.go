package heat

import (
	"testing"
	"time"

	"flitchbook/planner/unit"
)

// Rows E-Z1 to E-Z5 and every row of the tables. Sources: 9 CFR 318.10's heat as two
// threads quote it; freezer, JAMA 155:1394, 1954, abstract, read; frozen core, a review,
// read where quoted; game: read where quoted.
func TestTrichinaRows(t *testing.T) {
	f := func(deg float64) unit.Temp { return unit.TempOfF(deg) }
	const h, m = time.Hour, time.Minute
	for _, r := range []struct {
		id   string
		got  Treatment
		ok   bool
		want time.Duration
		row  unit.Temp
	}{
		{"E-Z1", TrichinaByHeat(f(131)), true, 30 * m, f(130)},
		{"E-Z2", TrichinaByHeat(f(137)), true, 3 * m, f(136)},
		{"E-Z3", TrichinaByFreezer(0, 2, false), true, 20 * day, f(5)},
		{"E-Z4", TrichinaByFreezer(f(-22), 8, false), true, 12 * day, f(-20)},
		{"E-Z5", TrichinaByFreezer(f(-20), 2, true), false, 0, 0},
		{"game, core", TrichinaByFrozenCore(f(-30), true), false, 0, 0},
		{"119.9 °F", TrichinaByHeat(f(119.9)), false, 0, 0},
		{"5.1 °F freezer", TrichinaByFreezer(f(5.1), 2, false), false, 0, 0},
		{"6 in", TrichinaByFreezer(f(5), 6, false), true, 20 * day, f(5)},
		{"6.1 in", TrichinaByFreezer(f(5), 6.1, false), true, 30 * day, f(5)},
		{"28 in", TrichinaByFreezer(f(5), 28, false), false, 0, 0},
		{"no thickness", TrichinaByFreezer(f(5), 0, false), false, 0, 0},
		{"core −17", TrichinaByFrozenCore(f(-17), false), true, 48 * h, f(-15)},
		{"core −40", TrichinaByFrozenCore(f(-40), false), true, 30 * m, f(-35)},
		{"core 1", TrichinaByFrozenCore(f(1), false), false, 0, 0},
	} {
		if r.got.Credit != r.ok || r.got.For != r.want || r.got.Row != r.row || r.got.Why == "" {
			t.Errorf("%s: %+v, want %s by the row of %s", r.id, r.got, r.want, r.row)
		}
	}
	for deg, want := range map[float64]time.Duration{120: 21 * h, 122: 9*h + 30*m, 126: 2 * h, 128: h, 130: 30 * m, 134: 6 * m, 136: 3 * m, 140: m, 144: 0, 150: 0} {
		if got := TrichinaByHeat(f(deg)); !got.Credit || got.For != want {
			t.Errorf("%v °F: %+v, want %s", deg, got, want)
		}
	}
	for deg, want := range map[float64]time.Duration{0: 106 * h, -5: 82 * h, -15: 48 * h, -20: 35 * h, -30: 8 * h, -35: 30 * m} {
		if got := TrichinaByFrozenCore(f(deg), false); !got.Credit || got.For != want {
			t.Errorf("core %v °F: %+v, want %s", deg, got, want)
		}
	}
}
