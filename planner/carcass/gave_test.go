package carcass

import (
	"testing"

	"flitchbook/planner/unit"
)

// House outcome J7: of 17 pigs 32 bellies of 34 gave three slabs skinless, 2 only with
// the skin on. The light pig's sides are those of house scenario S-01: 90.8 and 91.6 lb,
// skinless 2 × 5.00, skin on 3 × 4.60 and 3 × 4.64.
func TestTell(t *testing.T) {
	p, r := Example(), SlabRule{Mode: Equal, Min: 425 * unit.Pound / 100, Max: 575 * unit.Pound / 100, Fixed: 5 * unit.Pound}
	side := func(lb float64, s Skin) BellyCut { return p.CutSide(r, Side{Cold: unit.WeightOfPounds(lb), Skin: s}) }
	var all []BellyCut
	for range 32 {
		all = append(all, side(99.91, Skinless))
	}
	all = append(all, side(90.8, SkinOn), side(91.6, SkinOn))
	for _, c := range []struct {
		cuts []BellyCut
		want string
	}{
		{all, "32 bellies of 34 gave three slabs skinless, 2 only with the skin on"},
		{all[32:], "2 bellies of 2 gave three slabs only with the skin on"},
		{[]BellyCut{side(99.91, SkinOn)}, "1 belly of 1 gave three slabs with the skin on"},
		{[]BellyCut{side(99.91, Skinless), side(90.8, Skinless), side(20, Skinless)}, "1 bellies of 3 gave three slabs skinless, 1 gave two slabs skinless, 1 gave no slabs skinless"},
		{nil, ""},
	} {
		if got := p.Tell(r, c.cuts); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
	for i, want := range []Gave{{3, Skinless, 32}, {3, SkinOn, 2}} {
		if got := Tally(all)[i]; got != want {
			t.Errorf("tally %d: %+v, want %+v", i, got, want)
		}
	}
}
