// Package demand turns seats into slabs, bellies, halves and animals, and says what
// the order leaves to sell.
//
// # Method
//
// One Input is one order: the classes fed by the same kill from the same farm.
//
//	slabs wanted  = slab seats + second slabs + demo slabs        (class by class)
//	bellies       = slabs wanted ÷ slabs a belly, rounded up      (slabs are counted per belly)
//	class sides   = guests ÷ guests a half, rounded up            (class by class)
//	animals       = sides ÷ 2, rounded up
//
// A clinic's half is cut up before its guests, so its belly can become slabs only for
// a class on a later day, and not at all when the guests take it home. The free sides
// needed are therefore the worst case over days t of
//
//	bellies wanted up to t − clinic bellies free by t
//
// and a bacon class two days after a pig clinic needs one side fewer. A class with no
// seats needs nothing, not even its demo slab.
//
// The same reckoning is done for seats sold, expected and full: an order is a bet
// placed before most seats are sold, and all three belong on the sheet. Expected seats
// come from Forecast (pickup.go).
//
// When meat is short, Shortage.Ways lists the remedies with what each gives; a person
// chooses.
//
// # Sources
//
// Rules of the demo shop, given in Input so that another shop can set its own. The
// slab yield is planner/carcass's; the additive pickup model is the classical one of
// hotel forecasting: final = on hand + mean(final − on hand of past classes).
package demand

import (
	"fmt"

	"flitchbook/planner/carcass"
	"flitchbook/planner/unit"
)

// Unit is what a class is fed with.
type Unit int

// The units of the shop's classes.
const (
	Belly       Unit = iota // bacon: slabs of belly
	Half                    // pig clinic: one side
	Hindquarter             // beef clinic: the back part of one side
	Whole                   // lamb and venison clinic: both sides of one animal
)

var unitWords = [...]string{Belly: "belly", Half: "half", Hindquarter: "hindquarter", Whole: "whole"}

func (u Unit) String() string { return unitWords[u] }

// MarshalText writes "belly", "half", "hindquarter" or "whole".
func (u Unit) MarshalText() ([]byte, error) { return []byte(u.String()), nil }

// UnmarshalText reads what MarshalText writes.
func (u *Unit) UnmarshalText(b []byte) error {
	for i, w := range unitWords {
		if string(b) == w {
			*u = Unit(i)
			return nil
		}
	}
	return &unit.ParseError{Want: `one of "belly", "half", "hindquarter", "whole"`, Got: string(b)}
}

// Seats of a class: slab seats of a bacon class, guests of a clinic. Watching seats
// have no meat and are not counted.
type Seats struct {
	Sold     int // held or firm
	Expected int // forecast for the day
	Full     int // on offer
}

// Class is one class's call on the animals.
type Class struct {
	Code    string
	Unit    Unit
	Day     unit.Day
	Seats   Seats
	Second  int // second slabs sold; they are kept at every level
	Demo    int // slabs for showing; the demo shop takes 1 a bacon class
	PerUnit int // guests a half, hindquarter or whole; the demo shop says up to 12

	BellyHome bool // guests take the half's belly home: no slabs from it
	CutsHome  bool // guests take the half's other cuts home: nothing of it to sell
}

// Input is one order.
type Input struct {
	Profile carcass.Profile
	Rule    carcass.SlabRule
	Skin    carcass.Skin
	Classes []Class
	// ShareUnits lets clinics of one day and one size share a half that one of
	// them alone would leave part empty.
	ShareUnits bool
}

// Level is which count of seats is reckoned with.
type Level int

// The three bets of the meat sheet.
const (
	Sold Level = iota
	Expected
	Full
)

var levelWords = [...]string{Sold: "sold", Expected: "expected", Full: "full"}

func (l Level) String() string { return levelWords[l] }

// At is the count of seats at a level.
func (s Seats) At(l Level) int { return [...]int{s.Sold, s.Expected, s.Full}[l] }

// biggest bounds a class: no room here holds more.
const biggest = 500

// Check lists everything wrong with the input.
func (in Input) Check() unit.Faults {
	var f unit.Faults
	f.Under("profile", in.Profile.Check())
	f.Under("rule", in.Rule.Check())
	if in.Profile.HCW <= 0 {
		f.Add("profile.hcw", "the order needs the farm's usual hanging weight")
	}
	codes := map[string]bool{}
	for i, c := range in.Classes {
		under := fmt.Sprintf("classes[%d]", i)
		f.Under(under, c.check())
		if codes[c.Code] {
			f.Add(under+".code", fmt.Sprintf("class %s is listed twice", c.Code))
		}
		codes[c.Code] = true
	}
	return f
}

func (c Class) check() unit.Faults {
	var f unit.Faults
	if c.Code == "" {
		f.Add("code", "a class needs a code")
	}
	if c.Day == 0 {
		f.Add("day", "a class needs its day")
	}
	for l := Sold; l <= Full; l++ {
		if n := c.Seats.At(l); n < 0 || n > biggest {
			f.Add("seats."+l.String(), fmt.Sprintf("seats must lie between 0 and %d", biggest))
		}
	}
	if c.Seats.Sold > c.Seats.Full {
		f.Add("seats.sold", "more seats are sold than the class has")
	}
	if c.Seats.Expected > c.Seats.Full {
		f.Add("seats.expected", "more seats are expected than the class has")
	}
	switch {
	case c.Unit == Belly:
		if c.Second < 0 || c.Second > c.Seats.Full {
			f.Add("second", "second slabs are at most one a seat")
		}
		if c.Demo < 0 || c.Demo > biggest {
			f.Add("demo", "demo slabs cannot be below zero")
		}
		if c.PerUnit != 0 || c.BellyHome || c.CutsHome {
			f.Add("unit", "guests a half, and what of it goes home, belong to a clinic")
		}
	default:
		if c.PerUnit < 1 {
			f.Add("per_unit", "a clinic needs how many guests share one "+c.Unit.String())
		}
		if c.Second != 0 || c.Demo != 0 {
			f.Add("unit", "second and demo slabs belong to a bacon class")
		}
		if c.Unit == Hindquarter && (c.CutsHome || c.BellyHome) {
			f.Add("cuts_home", "a hindquarter's cuts are not reckoned apart; leave this out")
		}
	}
	return f
}

// NoSlabs is the error when slabs are wanted and a belly of this farm gives none.
type NoSlabs struct {
	Wanted int
	Belly  carcass.BellyCut
}

func (e *NoSlabs) Error() string {
	return fmt.Sprintf("%d slabs are wanted, but a belly of this farm gives none: %s", e.Wanted, e.Belly.Slabs.Why)
}
