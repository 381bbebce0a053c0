package invoice

import (
	"strings"
	"testing"

	"flitchbook/planner/unit"
)

func lb(hundredths int64) unit.Weight { return unit.Weight(hundredths) * unit.Pound / 100 }

// Four pigs promised, one condemned, three hung at 206 lb (house scenario S-10): by the
// house rules farm 3 × 206 × $2.40 = $1,483.20 and $60.00 haul, plant 4 × $70 = $280.00.
// Cold 3 % less, 599.46 lb.
func slip() Slip {
	return Slip{Animal: "pig", Asked: 4, Promised: 4, Killed: 4, Condemned: 1, Delivered: 3, Usual: lb(20600),
		HungHot: lb(61800), HungCold: lb(59946), Shrink: 3 * unit.Percent, Price: 2_40, Haul: 20_00, KillFee: 70_00,
		Tolerances: Tolerances{Weight: unit.Percent / 2, Shrink: 3 * unit.Percent / 2, Money: 1_00}}
}

func farm() Farm {
	return Farm{Basis: Hot, Animals: 3, Weight: lb(61800), Price: 2_40, Meat: 1483_20, Haul: 60_00, Total: 1543_20}
}

// Each row changes one thing of a bill that agrees; the difference in pounds and dollars
// is reckoned by hand.
func TestCheckFarm(t *testing.T) {
	for _, r := range []struct {
		what    string
		change  func(*Slip, *Farm)
		ok      bool
		pounds  unit.Weight
		dollars unit.Money
		says    string
	}{
		{"as agreed", func(*Slip, *Farm) {}, true, 0, 0, "$1543.20 billed, $1543.20 due"},
		// 618.00 − 599.46 = 18.54 lb, 3.0 %: expected.
		{"hot bill against the cold scale", func(*Slip, *Farm) {}, true, 0, 0, "18.54 lb above our cold 599.46 lb: that is the chill shrink"},
		{"a pound off: the weight may differ, its dollars are named", func(_ *Slip, b *Farm) { b.Weight, b.Meat, b.Total = lb(61900), 1485_60, 1545_60 }, false, lb(100), 2_40, "$2.40 more"},
		{"forty cents off may differ", func(_ *Slip, b *Farm) { b.Weight, b.Meat, b.Total = lb(61816), 1483_58, 1543_58 }, true, lb(16), 38, "within what may differ"},
		// 630 − 618 = 12 lb × 2.40 = $28.80.
		{"twelve pounds more", func(_ *Slip, b *Farm) { b.Weight, b.Meat, b.Total = lb(63000), 1512_00, 1572_00 }, false, lb(1200), 28_80, "12.00 lb more, $28.80 at $2.40"},
		// 599.46 × 2.40 = $1,438.70 (1438.704): $44.50 under what is owed.
		{"billed on cold weight", func(_ *Slip, b *Farm) { b.Basis, b.Weight, b.Meat, b.Total = Cold, lb(59946), 1438_70, 1498_70 }, false, 0, -44_50, "Agreed is hot weight: 618.00 lb hot at $2.40 is $1483.20 for the meat, and the bill asks $1438.70"},
		{"says hot, is cold", func(_ *Slip, b *Farm) { b.Weight, b.Meat, b.Total = lb(59946), 1438_70, 1498_70 }, false, -lb(1854), -44_50, "The bill says hot weight, but 599.46 lb is the cold weight"},
		{"the condemned one billed", func(_ *Slip, b *Farm) { b.Animals, b.Weight, b.Meat, b.Total = 4, lb(82400), 1977_60, 2037_60 }, false, lb(20600), 494_40, "a condemned carcass is the farm's"},
		{"another price", func(_ *Slip, b *Farm) { b.Price, b.Meat, b.Total = 2_50, 1545_00, 1605_00 }, false, 0, 61_80, "asks $2.50 a pound, the slip says $2.40"},
		{"a fee nobody spoke of", func(_ *Slip, b *Farm) { b.Other, b.Words, b.Total = 15_00, "washing", 1558_20 }, false, 0, 15_00, "$15.00 more for washing"},
		{"wrong sum", func(_ *Slip, b *Farm) { b.Total = 1534_20 }, false, 0, -9_00, "add up to $1543.20, its total says $1534.20"},
		{"wrong product", func(_ *Slip, b *Farm) { b.Meat, b.Total = 1484_20, 1544_20 }, false, 0, 1_00, "618.00 lb at $2.40 is $1483.20"},
		{"haul of the condemned", func(_ *Slip, b *Farm) { b.Haul, b.Total = 80_00, 1563_20 }, false, 0, 20_00, "3 animals × $20.00 is $60.00"},
		// 1 − 560 ÷ 618 = 9.4 %.
		{"sides far too light", func(s *Slip, _ *Farm) { s.HungCold = lb(56000) }, false, 0, 0, "shrink of 9.4 %"},
		{"sides heavier cold than hot", func(s *Slip, _ *Farm) { s.HungCold = lb(62000) }, false, 0, 0, "weigh more cold"},
		{"sides not weighed", func(s *Slip, _ *Farm) { s.HungCold = 0 }, true, 0, 0, "618.00 lb hot billed"},
		{"cold bill, sides not weighed", func(s *Slip, b *Farm) { s.HungCold, b.Basis = 0, Cold }, false, 0, 0, "no cold weight is written down"},
	} {
		s, b := slip(), farm()
		r.change(&s, &b)
		got := s.CheckFarm(b)
		if got.OK() != r.ok || got.Pounds != r.pounds || got.Dollars != r.dollars {
			t.Errorf("%s: ok %v, %s, %s; want %v, %s, %s: %v", r.what, got.OK(), got.Pounds.LB(), got.Dollars, r.ok, r.pounds.LB(), r.dollars, got.Findings)
		}
		found := false
		for _, f := range got.Findings {
			found = found || strings.Contains(f.Text, r.says)
		}
		if !found {
			t.Errorf("%s: does not say %q: %v", r.what, r.says, got.Findings)
		}
	}
}

func TestCheckPlant(t *testing.T) {
	for _, r := range []struct {
		what    string
		bill    Plant
		ok      bool
		dollars unit.Money
		says    string
	}{
		{"condemned one's fee is ours", Plant{Animals: 4, Fees: 280_00, Total: 280_00}, true, 0, "$280.00 due"},
		{"kinder", Plant{Animals: 3, Fees: 210_00, Total: 210_00}, false, -70_00, "asks no fee for the 1 condemned"},
		{"composting", Plant{Animals: 4, Fees: 280_00, Other: 25_00, Words: "composting", Total: 305_00}, false, 25_00, "$25.00 more for composting"},
		{"one too many", Plant{Animals: 5, Fees: 350_00, Total: 350_00}, false, 70_00, "5 animals billed, 4 hung"},
	} {
		got := slip().CheckPlant(r.bill)
		found := false
		for _, f := range got.Findings {
			found = found || strings.Contains(f.Text, r.says)
		}
		if got.OK() != r.ok || got.Dollars != r.dollars || !found {
			t.Errorf("%s: ok %v, %s, want %v, %s saying %q: %v", r.what, got.OK(), got.Dollars, r.ok, r.dollars, r.says, got.Findings)
		}
	}
}

// Apparent shrink of published weights: Translational Animal Science 1(1):77–89, 2017,
// table 2, light class: 88.07 kg hot, sides of 43.05 kg, 2.24 % (row E-P18).
func TestShrinkOfAPublishedCarcass(t *testing.T) {
	s := slip()
	s.HungHot, s.HungCold = 88070*unit.Gram, 2*43050*unit.Gram
	b := farm()
	b.Weight = s.HungHot
	if got := s.CheckFarm(b).Shrink.Pct(2); got != "2.24 %" {
		t.Errorf("shrink %s, want 2.24 %%", got)
	}
}
