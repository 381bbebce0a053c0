// Package order plans a season's buying: which animals and boxes, from which farm, on
// which delivery day, for which class, fresh or frozen, within cooler, freezer, slots
// and lead times, cheapest after selling what is left over.
//
// # What is decided
//
// An Offer is one farm's delivery on one day. It sells Forms (a whole, a half, a box),
// each giving pieces of some Kinds; a piece may be broken into others (a side into
// belly, shoulder, loin, leg). A piece serves a class fresh when its days since
// delivery lie between the kind's FreshMin and FreshMax, or frozen when they are more
// than FreshMax but at most FrozenMax and the class takes that kind frozen. What no
// class needs is sold in the calendar week of its delivery as far as the outlet takes
// it, and brings nothing beyond. Every class gets exactly what it needs.
//
//	cost = price of what is bought + haul charge of every delivery used + freezing − sales
//
// # How
//
// Pieces of one kind and delivery are interchangeable, so only numbers are decided.
// Frozen pieces are not followed one by one either: first frozen is first thawed, so it
// is enough that at each class day as many pieces are old enough as have been taken,
// and none is left that will be too old for the next (model.go). The program of whole
// numbers that comes out is solved to proof by package integer. Plan.Bound is proven;
// Plan.Proven says the two meet.
//
// Ties: of equally cheap ways to use the same purchase the one is taken whose days come
// nearest the house rule (the latest fitting delivery, or a kind's Target: beef nearest
// 17 days). Among different purchases of equal cost the choice is arbitrary but always
// the same, unless Options.Near spends work on nearer days there too; the others come out
// as the next best plans.
//
// Check is written apart from all this and looks at a plan with the problem alone.
package order

import (
	"slices"

	"flitchbook/planner/unit"
)

// Count is a number of pieces of a kind, or of units of a form.
type Count struct {
	Name string
	N    int
}

// Kind is what a piece can be: "belly", "side", "beef hindquarter".
type Kind struct {
	Name       string
	Space      int // units of cooler or freezer that one piece fills
	FreshMin   int // days from delivery to class, the fewest
	FreshMax   int // and the most, without freezing
	FrozenMax  int // the most when frozen; no more than FreshMax: cannot be frozen
	FreezeCost unit.Money
	Value      unit.Money // what one piece left over sells for
	Outlet     []int      // how many can be sold, by week (day ÷ 7); none beyond its end
	BreaksInto []Count
	Target     int // days wanted between delivery and class; 0: as few as possible
}

// Form is how meat is sold.
type Form struct {
	Name  string
	Gives []Count
	Group string // what it counts against: "halves", "boxes"
	Size  int    // and for how much: a whole is two halves
}

// Offer is one farm's delivery on one day.
type Offer struct {
	ID      string
	Farm    string
	Kill    int
	Day     int // of delivery
	Prices  []Price
	Caps    []Count    // by group
	Drop    unit.Money // haul charge, once if anything at all is ordered
	OrderBy int        // last day to order, if HasOrderBy
	Slot    string     // kill day shared with other offers, "" if not

	HasOrderBy bool
}

// Price of one unit of a form.
type Price struct {
	Form string
	Unit unit.Money
	Why  string // how it was reckoned, when not a plain price
}

// Slot is a kill day whose places several offers share.
type Slot struct {
	Name  string
	Group string
	Most  int
}

// Class needs pieces on its day.
type Class struct {
	ID       string
	Day      int
	Demand   []Count
	FrozenOK []string
	Thaw     []Count // days a frozen piece of a kind leaves the freezer before the class

	From     []string // the only offers that may feed it; nil: any that comes in time
	OneOffer bool     // all its pieces come from one offer
}

// takes says whether the class may be fed by an offer.
func (c *Class) takes(offer string) bool { return c.From == nil || slices.Contains(c.From, offer) }

// Room is cold space, the same every day but for the exceptions.
type Room struct {
	Cap    int
	Except map[int]int // by day
}

func (r Room) on(day int) int {
	if c, ok := r.Except[day]; ok {
		return c
	}
	return r.Cap
}

// Problem is a season to be supplied. Days are counted from any day called 0, the
// first of a week; weeks are day ÷ 7.
type Problem struct {
	Kinds   []Kind
	Forms   []Form
	Offers  []Offer
	Slots   []Slot
	Classes []Class
	Cooler  Room
	Freezer Room
	Today   int // offers whose order-by has passed are left out
	Week0   int // days from the first of week 0 to day 0
	// DayName writes a day for people; "day 12" when nil.
	DayName func(day int) string
}

// Order is units of one form bought from one offer.
type Order struct {
	Offer, Form string
	Units       int
}

// Use is pieces of one offer that go to a class.
type Use struct {
	Offer, Class, Kind string
	Pieces             int
	Frozen             bool
}

// Piece is a number of pieces of one offer: sold, left over, or broken.
type Piece struct {
	Offer, Kind string
	Pieces      int
}

// Plan is what to buy and where every piece goes.
type Plan struct {
	Orders []Order
	Broken []Piece // pieces broken into others
	Uses   []Use
	Sold   []Piece
	Waste  []Piece // that bring nothing
	Cost   unit.Money
	Bound  unit.Money // proven: no plan (other than better ones listed) costs less
	Proven bool       // Bound equals Cost
}

// Left is an offer that could not be used, and why.
type Left struct {
	Offer, Why string
}
