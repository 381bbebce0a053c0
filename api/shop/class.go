package shop

import (
	"regexp"
	"strings"

	"flitchbook/planner/unit"
)

// ClassKind is a kind of class as the shop offers it. To add one, add a row: the
// program has no list of kinds of its own.
type ClassKind struct {
	ID         KindID
	Code       string // short word in addresses and feeds: "bacon", "pig", "beef"
	Name       string // "Bacon-curing class"
	Species    string // animal it needs: "pork", "lamb", "deer", "beef", or "" for none
	Piece      string // what of it: "belly", "half", "whole", "hindquarter", or ""
	Slabs      bool   // each seat has a slab to cure
	Dinner     bool   // guests eat before the cutting
	Seats      int    // seats by default
	MinSeats   int    // fewest to go ahead (R10)
	Minutes    int    // how long it lasts
	HangMin    int    // fewest and most days from kill to class (R19)
	HangMax    int
	HangTarget int  // days aimed for; 0 means the latest kill that fits
	LeadDays   int  // order-by is this many days before the kill (R19)
	PerUnit    int  // guests who share one half, hindquarter or whole animal; 0: the house rule (R17)
	BoneIn     bool // the loin is cut on the bone, so the age of cattle is asked for
	MinAge     int  // youngest for a seat, on class day (R11)
	WatchAge   int  // youngest for a watching seat; 0: no watching seats
	Does       string
	Sees       string
	Eats       string
	Takes      string
	Wear       string
	Access     string
	Asked      string // the little questions, one a line: "Question? | Answer"
}

// Question is one of the little questions people have before a class, with its answer.
type Question struct{ Text, Answer string }

// Questions are the little questions of a kind, for its page and its reminder.
func (k ClassKind) Questions() []Question {
	var all []Question
	for line := range strings.Lines(k.Asked) {
		if q, a, ok := strings.Cut(strings.TrimSpace(line), " | "); ok {
			all = append(all, Question{q, a})
		}
	}
	return all
}

// TableName of the record.
func (ClassKind) TableName() string { return "class_kinds" }

// SeatKind is what is paid for.
type SeatKind string

// The seat kinds. A guest seat is a place at a clinic.
const (
	SlabSeat   SeatKind = "slab"
	WatchSeat  SeatKind = "watch"
	GuestSeat  SeatKind = "guest"
	SecondSlab SeatKind = "second"
)

// Price is what a seat of a kind costs a new booking from an instant on (R1).
type Price struct {
	ID     int64
	KindID KindID
	Seat   SeatKind
	Cents  unit.Money
	From   unit.Instant `gorm:"column:from_at"`
}

// TableName of the record.
func (Price) TableName() string { return "prices" }

// Class is one class on one day. SeatsTaken counts held, offered and firm seats
// that take a place; the database refuses to let it pass Seats.
type Class struct {
	ID           ClassID
	Code         string // "B4"; the first half of every tag
	KindID       KindID
	Title        string
	StartsAt     unit.Instant
	EndsAt       unit.Instant
	Day          unit.Day // of StartsAt in the shop's zone
	Seats        int
	SeatsTaken   int
	MinSeats     int
	State        ClassState
	DemoSlabs    int        // shop-owned slabs cut for showing (R17)
	AgainSlabs   int        // of its delivery, promised to people whose slab was dumped (R34)
	Private      bool       // not on the season page; one party
	FlatCents    unit.Money // price of a private party, else 0
	KillDayID    KillDayID  // kill its meat is planned from; 0: none yet
	OrderID      OrderID    // order that carries its meat; 0: none yet
	DecideAt     unit.Instant
	NeedsAskedAt unit.Instant // when people who had not told their food needs were asked once more (R12)
	Sequence     int          // of its calendar entry
	Revision     int          // raised by every change a page could show
	CreatedAt    unit.Instant
}

// TableName of the record.
func (Class) TableName() string { return "classes" }

// Left is how many seats may still be taken.
func (c Class) Left() int { return c.Seats - c.SeatsTaken }

// OnSale says whether the public may book at now.
func (c Class) OnSale(now unit.Instant) bool {
	return !c.Private && (c.State == Open || c.State == GoingAhead) && now < c.StartsAt
}

// ClosedDay is a day the shop is shut altogether or in part.
type ClosedDay struct {
	Day     unit.Day `gorm:"primaryKey"`
	Reason  string
	Counter bool // counter shut
	Work    bool // no production: no unbagging, smoking or packing
}

// TableName of the record.
func (ClosedDay) TableName() string { return "closed_days" }

// NewClass is what the owner types to sketch a class.
type NewClass struct {
	Code      string
	Kind      string // code of a ClassKind
	Title     string // "" takes the name of the kind
	StartsAt  unit.Instant
	Minutes   int // 0 takes the kind's
	Seats     int // 0 takes the kind's
	MinSeats  int // -1 takes the kind's
	DemoSlabs int // -1 takes the house rule
	Private   bool
	FlatCents unit.Money // whole price of a private party; 0: by the seat
	DecideAt  unit.Instant
}

// Check returns every wrong answer at once.
func (n NewClass) Check(now unit.Instant) error {
	var w Wrong
	if !classCode.MatchString(n.Code) {
		w.Add("code", "Write a short code of letters and digits, such as B4: it begins every tag.")
	}
	plainText(&w, "title", n.Title, 80)
	switch {
	case n.StartsAt == 0:
		w.Add("starts", "When does it start?")
	case n.StartsAt <= now:
		w.Add("starts", "That moment has passed.")
	}
	if n.Seats < 0 || n.Seats > 200 {
		w.Add("seats", "Write a number of seats from 1 to 200.")
	}
	if n.Minutes < 0 || n.Minutes > 24*60 {
		w.Add("minutes", "Write how long it lasts, in minutes, at most a day.")
	}
	if n.DemoSlabs > 10 {
		w.Add("demo", "At most ten demo slabs.")
	}
	if n.FlatCents < 0 || n.FlatCents > 100_000_00 {
		w.Add("flat", "That is not a price.")
	}
	if n.FlatCents > 0 && !n.Private {
		w.Add("flat", "Only a private party has one price for all.")
	}
	return w.Err()
}

var classCode = regexp.MustCompile(`^[A-Z][A-Z0-9]{0,5}$`)
