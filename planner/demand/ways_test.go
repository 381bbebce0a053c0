package demand

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"flitchbook/planner/carcass"
	"flitchbook/planner/unit"
)

func chicago(t *testing.T) *time.Location {
	t.Helper()
	loc, err := time.LoadLocation("America/Chicago")
	if err != nil {
		t.Fatal(err)
	}
	return loc
}

func show(ways []Way) string {
	var out []string
	for _, w := range ways {
		out = append(out, fmt.Sprintf("%s, %s: +%d, %s", w.Remedy, w.What, w.Gain, w.Why))
	}
	return strings.Join(out, "\n")
}

func compare(t *testing.T, got []Way, want string) {
	t.Helper()
	if g, w := show(got), strings.TrimSpace(want); g != w {
		t.Errorf("ways out:\n%s\nwant:\n%s", g, w)
	}
}

const touching = `
ask to move, guests who would come another day: +0, each yes frees one slab; it is theirs to say
call off, the class: +0, every booking chooses money back, another date or credit`

// Scenario S-01 of the house: the second pig hangs light.
func TestSecondPigLight(t *testing.T) {
	s := Shortage{Profile: carcass.Example(), Rule: carcass.DefaultSlabs(), Wanted: 12, Demos: 1,
		Sides: []carcass.Side{{Tag: "pig 1 L", Cold: lbs(100.6)}, {Tag: "pig 1 R", Cold: lbs(101.2)}, {Tag: "pig 2 L", Cold: lbs(90.8)}, {Tag: "pig 2 R", Cold: lbs(91.6)}}}
	r := s.Recount()
	want := []string{
		"16.10 lb, net 13.13 lb, 3 × 4.38 lb, 0.00 lb over",
		"16.19 lb, net 13.21 lb, 3 × 4.40 lb, 0.00 lb over",
		"14.53 lb, net 11.85 lb, 2 × 5.00 lb, 1.85 lb over",
		"14.66 lb, net 11.96 lb, 2 × 5.00 lb, 1.96 lb over",
	}
	for i, c := range r.Cuts {
		got := fmt.Sprintf("%s, net %s, %s, %s over", c.Belly.LB(), c.Net.LB(), pieces(c.Slabs), c.Slabs.Left.LB())
		if got != want[i] {
			t.Errorf("%s: %s, want %s", c.Tag, got, want[i])
		}
	}
	if r.Slabs != 10 || r.Short != 2 || r.Over != 0 {
		t.Errorf("%d slabs, short %d", r.Slabs, r.Short)
	}
	compare(t, r.Ways, `
drop demo, 1 demo slab: +1, the shop goes without, no guest is touched
skin on, pig 1 L: +0, 3 × 5.09 lb either way
skin on, pig 1 R: +0, 3 × 5.12 lb either way
skin on, pig 2 L: +1, 3 × 4.60 lb instead of 2 × 5.00 lb
skin on, pig 2 R: +1, 3 × 4.64 lb instead of 2 × 5.00 lb`+touching)

	// Outcome B: both skins stay on, 12 slabs, nothing short.
	s.Sides[2].Skin, s.Sides[3].Skin = carcass.SkinOn, carcass.SkinOn
	if r := s.Recount(); r.Slabs != 12 || r.Short != 0 || r.Ways != nil {
		t.Errorf("outcome B: %+v", r)
	}
}

// Scenario S-10: one of four pigs is condemned; the frozen belly does not thaw in time.
func TestCondemned(t *testing.T) {
	loc := chicago(t)
	now := unit.DayOf(2026, 10, 22).At(8, 10, loc)
	s := Shortage{Profile: carcass.Example(), Rule: carcass.DefaultSlabs(), Wanted: 20, Demos: 2,
		Frozen: []Frozen{{Tag: "freezer 1", Weight: lbs(15.9)}},
		Now:    now, Start: unit.DayOf(2026, 10, 24).At(13, 0, loc)}
	for i, w := range s.Profile.ForecastSides(6) {
		s.Sides = append(s.Sides, carcass.Side{Tag: fmt.Sprint("side ", i+1), Cold: w})
	}
	r := s.Recount()
	if r.Slabs != 18 || r.Short != 2 {
		t.Errorf("%d slabs, short %d", r.Slabs, r.Short)
	}
	skins := ""
	for i := range s.Sides {
		skins += fmt.Sprintf("skin on, side %d: +0, 3 × 5.06 lb either way\n", i+1)
	}
	compare(t, r.Ways, `
drop demo, 2 demo slabs: +2, the shop goes without, no guest is touched
`+skins+`thaw, freezer 1: +0, not in time: 15.90 lb is 4 started 5.00 lb: 96 h`+touching)

	// Ready Mon Oct 26 08:10: to the minute it is in time.
	s.Start = unit.DayOf(2026, 10, 26).At(8, 10, loc)
	ways := s.Recount().Ways
	if w := ways[len(ways)-3]; w.Remedy != Thaw || w.Gain != 3 || !strings.Contains(w.Why, "in time; 3 × 4.3") {
		t.Errorf("thaw = %+v", w)
	}
}

// Scenario S-05, branch B: ten slabs from the pigs of Nov 10 and 11: 3 free, then
// unsold seats, latest class first and later sitting first.
func TestTakeFromLatest(t *testing.T) {
	loc := chicago(t)
	start := func(d, h, m int) unit.Instant { return unit.DayOf(2026, 11, d).At(h, m, loc) }
	s := Shortage{Profile: carcass.Example(), Rule: carcass.DefaultSlabs(), Wanted: 10, Free: 36 - 25 - 8,
		Unsold: []Unsold{{"B6", start(14, 13, 0), 2}, {"B7", start(14, 15, 30), 2}, {"B8", start(21, 14, 0), 4}}}
	compare(t, s.Recount().Ways, `
free slabs, same delivery: +3, 3 of 3 slabs nobody claims
unsold seats, B8: +4, 4 of 4 seats not sold; they come off sale
unsold seats, B7: +2, 2 of 2 seats not sold; they come off sale
unsold seats, B6: +1, 1 of 2 seats not sold; they come off sale`+touching)
}

// Rows E-T1 and E-T2: thaw days per piece. Source: extension "safe thawing practices"
// sheet (24 h per 5 lb) and the stricter 24 h per 4 lb, from memory of USDA FSIS advice.
func TestThawRows(t *testing.T) {
	for _, row := range []struct {
		id   string
		per  int64
		want [6]int
	}{{"E-T1", 5, [6]int{1, 3, 4, 4, 4, 5}}, {"E-T2", 4, [6]int{2, 3, 4, 5, 5, 6}}} {
		for i, w := range []float64{5, 12, 15.43, 16.27, 20, 24} {
			if got := ThawSteps(lbs(w), unit.Weight(row.per)*unit.Pound); got != row.want[i] {
				t.Errorf("%s: %v lb takes %d days, want %d", row.id, w, got, row.want[i])
			}
		}
	}
}
