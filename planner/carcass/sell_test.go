package carcass

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"flitchbook/planner/unit"
)

// list is the house's value list (R42).
func list(cut string) unit.Money {
	return map[string]unit.Money{"ham": 260, "loin": 440, "butt": 310, "picnic": 220, "ribs": 370, "belly": 470, "rest": 55}[cut]
}

// W3 of the house: a 206 lb pig at $2.40, $70 kill and $20 haul is $584.40 against
// $628.90 of parts: factor 0.9292, and the belly costs $4.37 a pound though it lists at
// $4.70. Worked by hand.
func TestShareCost(t *testing.T) {
	cost := unit.Money(240).PerPound(206*unit.Pound) + 70_00 + 20_00
	s, err := ShareCost(cost, Example().Whole(), list)
	if err != nil {
		t.Fatal(err)
	}
	if s.Cost != 584_40 || s.Value != 628_90 || fmt.Sprintf("%.4f", s.Factor.Float()) != "0.9292" {
		t.Errorf("cost %s, value %s, factor %.4f", s.Cost, s.Value, s.Factor.Float())
	}
	if b := s.Cuts[0]; b.Cut != "belly" || b.Pound != 437 || b.List != 470 {
		t.Errorf("belly %+v", b)
	}
	var sum unit.Money
	for _, c := range s.Cuts {
		sum += c.Cost
	}
	if sum != cost {
		t.Errorf("the parts add up to %s", sum)
	}
	if _, err := ShareCost(cost, []Cut{{"soap", unit.Pound}}, list); err == nil {
		t.Error("a cost was shared over nothing")
	}
}

// Shares of a cost add up to it, to the cent, and no dearer cut bears less than a
// cheaper one of the same weight.
func TestShareCostLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var cuts []Cut
		prices := map[string]unit.Money{}
		for i := range rapid.IntRange(1, 9).Draw(t, "cuts") {
			name := fmt.Sprint("cut ", i)
			cuts = append(cuts, Cut{name, grams(t, "weight", 1, 60_000)})
			prices[name] = unit.Money(rapid.IntRange(1, 4000).Draw(t, "price"))
		}
		cost := unit.Money(rapid.IntRange(0, 500_000).Draw(t, "cost"))
		s, err := ShareCost(cost, cuts, func(c string) unit.Money { return prices[c] })
		if err != nil {
			t.Fatal(err)
		}
		var sum unit.Money
		for i, c := range s.Cuts {
			sum += c.Cost
			if c.Weight != cuts[i].Weight || c.Cost < 0 {
				t.Fatalf("%+v", c)
			}
			for _, d := range s.Cuts {
				if c.Weight == d.Weight && c.List > d.List && c.Cost < d.Cost {
					t.Fatalf("%+v bears less than %+v", c, d)
				}
			}
		}
		if sum != cost {
			t.Fatalf("parts %s of %s", sum, cost)
		}
	})
}

// Two Harl Bank pigs leave 99.91 lb of ham (M5 of the house); by hand: 60 lb a week over
// the counter at $2.60, 20 a week to sausage at $1.10, 10 to the freezer at $1.80.
func TestSell(t *testing.T) {
	p := Example()
	left := p.Leaves(p.ForecastSides(4)).Cuts
	outlets := []Outlet{{"ham", "counter", 60 * unit.Pound, 260}, {"ham", "sausage", 20 * unit.Pound, 110}, {"ham", "freezer", 10 * unit.Pound, 180},
		{"loin", "counter", 100 * unit.Pound, 440}}
	s := Sell(left, outlets, 1)
	var lines []string
	for _, c := range s.Cuts[:3] {
		line := fmt.Sprintf("%s %s:", c.Cut, c.Weight.LB())
		for _, g := range c.To {
			line += fmt.Sprintf(" %s %s %s,", g.Way, g.Weight.LB(), g.Money)
		}
		lines = append(lines, fmt.Sprintf("%s %s in %d weeks, over %s", line, c.Money, c.Weeks, c.Over.LB()))
	}
	want := `ham 99.91 lb: counter 60.00 lb $156.00, sausage 20.00 lb $22.00, freezer 10.00 lb $18.00, $196.00 in 2 weeks, over 9.91 lb
loin 91.92 lb: counter 91.92 lb $404.44, $404.44 in 1 weeks, over 0.00 lb
butt 37.97 lb: $0.00 in 0 weeks, over 37.97 lb`
	if got := strings.Join(lines, "\n"); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
	if s.Money != 600_44 {
		t.Errorf("money %s", s.Money)
	}
	if two := Sell(left, outlets, 2); two.Cuts[0].Over != 0 || len(two.Cuts[0].To) != 1 {
		t.Errorf("in two weeks: %+v", two.Cuts[0])
	}
}

// What is left goes somewhere or is over: nothing is lost and no outlet takes more than
// its weeks.
func TestSellLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var outlets []Outlet
		for i := range rapid.IntRange(0, 4).Draw(t, "outlets") {
			outlets = append(outlets, Outlet{"ham", fmt.Sprint("way ", i), grams(t, "week", 0, 20_000), unit.Money(rapid.IntRange(0, 900).Draw(t, "price"))})
		}
		weeks := rapid.IntRange(0, 5).Draw(t, "weeks")
		cut := Cut{"ham", grams(t, "left", 0, 90_000)}
		s := Sell([]Cut{cut}, outlets, weeks)
		sum, money := s.Cuts[0].Over, unit.Money(0)
		for _, g := range s.Cuts[0].To {
			sum, money = sum+g.Weight, money+g.Money
			for _, o := range outlets {
				if o.Way == g.Way && g.Weight > o.Week*unit.Weight(weeks) {
					t.Fatalf("%+v takes %s", o, g.Weight)
				}
			}
		}
		if sum != cut.Weight || s.Weight != cut.Weight || s.Over != s.Cuts[0].Over || s.Money != money {
			t.Fatalf("%+v", s)
		}
		if more := Sell([]Cut{cut}, outlets, weeks+1); more.Over > s.Over {
			t.Fatalf("a week more leaves %s, not %s", more.Over, s.Over)
		}
	})
}

// E-T3: nine bellies of 16.3 lb into the freezer at 35 lb a cubic foot (North Carolina
// State Extension, 2004 [read]): 146.7 lb, 4.19 cu ft. E-T5: raw vacuum-packed
// 2026-05-04, frozen 05-14 to 06-20, 30 days (Food Code 3-502.12(B) as Wisconsin's ATCP
// 75 appendix adopts it [read]): 10 used, 20 left, discard after 2026-07-10. Computed.
func TestKeepingRows(t *testing.T) {
	meat := 9 * lbs(16.3)
	if got := FreezerRoom(meat, 35); meat.Number(unit.Pound, 1) != "146.7" || got != 419 {
		t.Errorf("E-T3: %s takes %d hundredths of a cubic foot", meat.LB(), got)
	}
	day := func(m time.Month, d int) unit.Day { return unit.DayOf(2026, m, d) }
	k := Keeping{Packed: day(5, 4), Frozen: day(5, 14), Thawed: day(6, 20), MostDays: 30}
	if got := k.Used(day(6, 20)); got != 10 {
		t.Errorf("E-T5: %d days used, want 10", got)
	}
	if d, ok := k.DiscardAfter(); !ok || d.String() != "2026-07-10" {
		t.Errorf("E-T5: discard after %s", d)
	}
	if k.Used(day(7, 10)) != 30 {
		t.Errorf("E-T5: %d days used on the last", k.Used(day(7, 10)))
	}
	k.Thawed = 0
	if _, ok := k.DiscardAfter(); ok || k.Used(day(8, 1)) != 10 {
		t.Error("E-T5: days were counted in the freezer")
	}
	k.Frozen = 0
	if d, ok := k.DiscardAfter(); !ok || d.String() != "2026-06-03" || k.Used(day(5, 9)) != 5 {
		t.Errorf("never frozen: %s", d)
	}
}
