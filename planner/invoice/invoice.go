// Package invoice holds what a farm or a plant bills against what was agreed and what
// hung: the three-way check of asked, hung and invoiced.
//
// # Method
//
// A farm is paid on hot weight, a condemned carcass is the farm's, its kill fee the
// shop's. So
//
//	due to the farm  = hot weight of what was not condemned × price + haul × delivered
//	due to the plant = kill fee × killed
//
// A bill names its weight hot or cold, and is held against the weight of the same name:
// hot against the plant's paper, cold against the shop's own scale. A hot weight lies
// above a cold one by the chill shrink; that is expected and is said, not flagged:
//
//	apparent shrink = (hot − cold) ÷ hot
//
// What differs by more than the tolerances is named with its pounds and its dollars.
// Whether to pay is for a person.
//
// # Sources
//
//   - Hot and chilled weight differ, so ask which one is invoiced: Michigan State
//     University Extension, "Carcass Dressing Percentage and Cooler Shrink".
//   - Shrink of pork in chill 2.2–3.9 %: Translational Animal Science 1(1):77–89, 2017,
//     table 2, reckoned from hot carcass and two sides.
//   - Who bears a condemned carcass, hot weight as the base, tolerances: house rules.
package invoice

import (
	"fmt"

	"flitchbook/planner/unit"
)

// Basis is the weight a bill is reckoned on.
type Basis string

// The two weights.
const (
	Hot  Basis = "hot"
	Cold Basis = "cold"
)

// Slip is what was agreed and what hung.
type Slip struct {
	Animal     string // "pig"
	Asked      int
	Promised   int
	Killed     int // condemned included
	Condemned  int
	Delivered  int
	Usual      unit.Weight // hot weight asked for, each
	HungHot    unit.Weight // of what was not condemned, by the plant's paper
	HungCold   unit.Weight // by the shop's scale; 0 when not weighed
	Shrink     unit.Ratio  // expected, of hot weight
	Price      unit.Money  // a pound of hot weight
	Haul       unit.Money  // an animal delivered
	KillFee    unit.Money  // an animal killed
	Tolerances Tolerances
}

// Tolerances are what may differ without a word.
type Tolerances struct {
	Weight unit.Ratio // of the weight that hung
	Shrink unit.Ratio // either side of the expected shrink
	Money  unit.Money
}

// Farm is a farm's bill as it is written.
type Farm struct {
	Basis   Basis
	Animals int
	Weight  unit.Weight
	Price   unit.Money // a pound
	Meat    unit.Money
	Haul    unit.Money
	Other   unit.Money
	Words   string // what Other is for
	Total   unit.Money
}

// Plant is a plant's bill as it is written.
type Plant struct {
	Animals int
	Fees    unit.Money // for the kill
	Other   unit.Money
	Words   string
	Total   unit.Money
}

// Finding is one thing the check has to say; OK ones explain.
type Finding struct {
	OK   bool
	Text string
}

// Result is a bill held against the slip.
type Result struct {
	Due      unit.Money // by the slip
	Billed   unit.Money
	Pounds   unit.Weight // billed less hung, of the weight the bill names
	Dollars  unit.Money  // billed less due
	Shrink   unit.Ratio  // apparent; 0 when the sides are not weighed
	Findings []Finding
}

// OK says whether nothing is amiss.
func (r Result) OK() bool {
	for _, f := range r.Findings {
		if !f.OK {
			return false
		}
	}
	return true
}

func (r *Result) say(ok bool, format string, args ...any) {
	r.Findings = append(r.Findings, Finding{ok, fmt.Sprintf(format, args...)})
}

// Good is how many animals were killed and not condemned.
func (s Slip) Good() int { return s.Killed - s.Condemned }

// DueFarm is what the farm is owed: meat on hot weight, and haul.
func (s Slip) DueFarm() unit.Money {
	return s.Price.PerPound(s.HungHot) + s.Haul*unit.Money(s.Delivered)
}

// DuePlant is what the plant is owed.
func (s Slip) DuePlant() unit.Money { return s.KillFee * unit.Money(s.Killed) }

// HotInCold is the hot weight less the expected shrink: what the scale in the shop should
// about show.
func (s Slip) HotInCold() unit.Weight { return s.HungHot - s.HungHot.Share(s.Shrink) }

// CheckFarm holds a farm's bill against the slip.
func (s Slip) CheckFarm(b Farm) Result {
	r := Result{Due: s.DueFarm(), Billed: b.Total}
	r.Dollars = r.Billed - r.Due
	s.animals(&r, b.Animals, s.Good())
	s.weight(&r, b)
	s.shrunk(&r)
	if b.Price != s.Price {
		r.say(false, "The bill asks %s a pound, the slip says %s.", b.Price, s.Price)
	}
	if want := b.Price.PerPound(b.Weight); !near(b.Meat, want, 1) {
		r.say(false, "%s at %s is %s, the bill says %s for the meat.", b.Weight.LB(), b.Price, want, b.Meat)
	}
	if want := s.Haul * unit.Money(s.Delivered); b.Haul != want {
		r.say(false, "Haul is %s on the bill; by the slip %s × %s is %s.", b.Haul, head(s.Delivered), s.Haul, want)
	}
	r.rest(b.Other, b.Words, b.Meat+b.Haul+b.Other)
	s.total(&r)
	return r
}

// CheckPlant holds a plant's bill against the slip.
func (s Slip) CheckPlant(b Plant) Result {
	r := Result{Due: s.DuePlant(), Billed: b.Total}
	r.Dollars = r.Billed - r.Due
	s.animals(&r, b.Animals, s.Killed)
	if b.Fees != r.Due {
		r.say(false, "Kill fees are %s on the bill; by the slip %s × %s is %s.", b.Fees, head(s.Killed), s.KillFee, r.Due)
	}
	r.rest(b.Other, b.Words, b.Fees+b.Other)
	s.total(&r)
	return r
}

func (s Slip) animals(r *Result, billed, want int) {
	switch {
	case billed == want:
		r.say(true, "%s billed, as hung.", head(billed))
	case billed == s.Killed && s.Condemned > 0:
		r.say(false, "%s billed, but %d of them condemned: a condemned carcass is the farm's.", head(billed), s.Condemned)
	case billed == s.Good() && want == s.Killed:
		r.say(true, "%s billed: the plant asks no fee for the %d condemned.", head(billed), s.Condemned)
	default:
		r.say(false, "%s billed, %d hung.", head(billed), want)
	}
}

// weight holds the weight of the bill against the one of the same name.
func (s Slip) weight(r *Result, b Farm) {
	hung, other, word := s.HungHot, s.HungCold, Cold
	if b.Basis == Cold {
		hung, other, word = s.HungCold, s.HungHot, Hot
	}
	if hung == 0 {
		r.say(false, "The bill is on %s weight, and no %s weight is written down to hold it against.", b.Basis, b.Basis)
		return
	}
	r.Pounds = b.Weight - hung
	switch {
	case within(b.Weight, hung, s.Tolerances.Weight):
		r.say(true, "%s %s billed, %s %s hung.", b.Weight.LB(), b.Basis, hung.LB(), b.Basis)
	case other > 0 && within(b.Weight, other, s.Tolerances.Weight):
		r.say(false, "The bill says %s weight, but %s is the %s weight that hung.", b.Basis, b.Weight.LB(), word)
	default:
		r.say(false, "%s %s billed, %s %s hung: %s.", b.Weight.LB(), b.Basis, hung.LB(), b.Basis, s.more(r.Pounds))
	}
	if b.Basis == Cold {
		r.say(false, "Agreed is hot weight: %s hot at %s is %s for the meat, and the bill asks %s.", s.HungHot.LB(), s.Price, s.Price.PerPound(s.HungHot), b.Meat)
		return
	}
	if s.HungCold > 0 && b.Weight > s.HungCold {
		r.say(true, "The hot weight billed lies %s above our cold %s: that is the chill shrink, not a mistake.", (b.Weight - s.HungCold).LB(), s.HungCold.LB())
	}
}

func (s Slip) more(w unit.Weight) string {
	word := "more"
	if w < 0 {
		word, w = "less", -w
	}
	return fmt.Sprintf("%s %s, %s at %s a pound", w.LB(), word, s.Price.PerPound(w), s.Price)
}

// shrunk says whether the sides lost in chill what they should.
func (s Slip) shrunk(r *Result) {
	if s.HungHot <= 0 || s.HungCold <= 0 {
		return
	}
	r.Shrink = (s.HungHot - s.HungCold).RatioOf(s.HungHot)
	if s.HungCold > s.HungHot {
		r.say(false, "Our sides weigh more cold (%s) than the plant's paper hot (%s): weigh again or ask the plant.", s.HungCold.LB(), s.HungHot.LB())
		return
	}
	apart := r.Shrink - s.Shrink
	if apart < 0 {
		apart = -apart
	}
	if apart > s.Tolerances.Shrink {
		r.say(false, "From %s hot to %s cold is a shrink of %s; about %s is usual for this farm: weigh again or ask the plant.", s.HungHot.LB(), s.HungCold.LB(), r.Shrink.Pct(1), s.Shrink.Pct(1))
		return
	}
	r.say(true, "From %s hot to %s cold is a shrink of %s; about %s is usual.", s.HungHot.LB(), s.HungCold.LB(), r.Shrink.Pct(1), s.Shrink.Pct(1))
}

func (r *Result) rest(other unit.Money, words string, sum unit.Money) {
	if other != 0 {
		if words == "" {
			words = "something it does not name"
		}
		r.say(false, "The bill has %s more for %s, which the slip does not speak of.", other, words)
	}
	if r.Billed != sum {
		r.say(false, "The bill's lines add up to %s, its total says %s.", sum, r.Billed)
	}
}

func (s Slip) total(r *Result) {
	word, by := "more", r.Dollars
	if by < 0 {
		word, by = "less", -by
	}
	switch {
	case by == 0:
		r.say(true, "%s billed, %s due by the slip.", r.Billed, r.Due)
	case by <= s.Tolerances.Money:
		r.say(true, "%s billed, %s due by the slip: %s %s, within what may differ.", r.Billed, r.Due, by, word)
	default:
		r.say(false, "%s billed, %s due by the slip: %s %s.", r.Billed, r.Due, by, word)
	}
}

func head(n int) string {
	if n == 1 {
		return "1 animal"
	}
	return fmt.Sprintf("%d animals", n)
}

func near(a, b, by unit.Money) bool { return a-b <= by && b-a <= by }

func within(a, b unit.Weight, share unit.Ratio) bool {
	d := a - b
	if d < 0 {
		d = -d
	}
	return d <= b.Share(share)
}
