package store

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/demand"
	"flitchbook/planner/unit"
)

// Trouble is something that has gone wrong with the meat of classes: what happened, who is
// touched, the ways out with what each gives and costs, and letters to read before they
// go. Nothing of it is stored: it is reckoned from how things stand, and gone when they
// stand right again.
type Trouble struct {
	Key     string // "order-7", "class-D6": stays the same while the trouble lasts
	Title   string
	Lines   []string // what happened, in sentences
	Order   int      // number of the order concerned, 0 for none
	Short   int      // slabs missing
	Touched []TouchedClass
	Ways    []TroubleWay // least harm first
	Plans   []TroublePlan
	Letters []Letter
	Reason  string // proposed for who reads why; the owner may change it
	Next    unit.Instant
}

// TouchedClass is a class the trouble reaches.
type TouchedClass struct {
	ID       shop.ClassID
	Code     string
	Title    string
	Starts   unit.Instant
	State    shop.ClassState
	Ready    unit.Day // what its guests were told; 0 for a class without slabs
	Slabs    bool
	Wanted   int // slabs
	Gets     int
	Short    int
	Demos    int
	Unfed    int // seats on sale without meat
	MeatOnly bool
	People   int
	Bookings []TouchedBooking
}

// TouchedBooking is a party the trouble reaches.
type TouchedBooking struct {
	ID     shop.BookingID
	Ref    string
	Name   string
	Mail   bool // can be written to
	State  shop.BookingState
	People int
	Slabs  int
	Paid   unit.Money
	Answer unit.Instant // until when it may choose, once it has been asked
}

// TroubleWay is a way out.
type TroubleWay struct {
	ID     string // what is pressed; "" when a person must go and talk
	Remedy string
	What   string
	Gain   int // slabs it surely gives
	Why    string
	Costs  string
	Harm   demand.Harm
	Rank   int
	Not    []string // IDs that do not go with it
}

// TroublePlan is ways that together mend the trouble.
type TroublePlan struct {
	IDs   []string
	Text  string
	Gain  int
	Costs string
}

// Troubles lists what is wrong now, the nearest class first.
func (s *Store) Troubles(ctx context.Context) ([]Trouble, error) {
	return s.troubles(s.read(ctx))
}

// Trouble is one of them. A trouble that is over is not found.
func (s *Store) Trouble(ctx context.Context, key string) (*Trouble, error) {
	return s.trouble(s.read(ctx), key)
}

func (s *Store) trouble(db *gorm.DB, key string) (*Trouble, error) {
	all, err := s.troubles(db)
	if err != nil {
		return nil, err
	}
	i := slices.IndexFunc(all, func(t Trouble) bool { return t.Key == key })
	if i < 0 {
		return nil, errTroubleOver
	}
	return &all[i], nil
}

var errTroubleOver = &shop.Error{Kind: shop.NotFound, Code: "not_found", Text: "This trouble is over, or there never was one."}

func (s *Store) troubles(db *gorm.DB) ([]Trouble, error) {
	var out []Trouble
	orders, err := many[shop.Order](db, "number", `state NOT IN ? AND (deliver_on >= ? OR id IN (SELECT order_id FROM classes WHERE day >= ?))`,
		[]shop.OrderState{shop.Needed, shop.OrderOff, shop.Settled}, s.Today(), s.Today())
	if err != nil {
		return nil, err
	}
	for i := range orders {
		t, err := s.orderTrouble(db, &orders[i])
		if err != nil {
			return nil, err
		}
		if t != nil {
			out = append(out, *t)
		}
	}
	more, err := s.classTroubles(db)
	if err != nil {
		return nil, err
	}
	out = append(out, more...)
	for i := range out {
		out[i].settle()
	}
	slices.SortStableFunc(out, func(a, b Trouble) int { return cmp.Compare(a.Next, b.Next) })
	return out, nil
}

// troubleLines are the orders in trouble, for the owner's list of the morning. Classes
// nothing was ever planned for stand on the meat sheet.
func (s *Store) troubleLines(db *gorm.DB, _ unit.Instant) ([]string, error) {
	all, err := s.troubles(db)
	var lines []string
	for _, t := range all {
		if t.Order != 0 {
			lines = append(lines, "TROUBLE: "+t.Title)
		}
	}
	return lines, err
}

// settle orders the ways and works out which together mend it.
func (t *Trouble) settle() {
	slices.SortStableFunc(t.Ways, func(a, b TroubleWay) int {
		return cmp.Or(a.Harm.Compare(b.Harm), cmp.Compare(a.Rank, b.Rank))
	})
	for _, c := range t.Touched {
		if t.Next == 0 || c.Starts < t.Next {
			t.Next = c.Starts
		}
	}
	var options []demand.Option
	for _, w := range t.Ways {
		// What changes a promise is never one press: it is ticked, with its reason.
		if w.ID != "" && w.Harm.People == 0 {
			options = append(options, demand.Option{Name: w.ID, Gain: w.Gain, Harm: w.Harm, Rank: w.Rank, Not: w.Not})
		}
	}
	for _, p := range demand.Plans(t.Short, options, 6) {
		plan := TroublePlan{Gain: p.Gain, Costs: harmWords(p.Harm)}
		var what []string
		for _, o := range p.Options {
			plan.IDs = append(plan.IDs, o.Name)
			i := slices.IndexFunc(t.Ways, func(w TroubleWay) bool { return w.ID == o.Name })
			what = append(what, t.Ways[i].Remedy+", "+t.Ways[i].What)
		}
		plan.Text = strings.Join(what, " and ")
		t.Plans = append(t.Plans, plan)
	}
}

// harmWords says what a way costs.
func harmWords(h demand.Harm) string {
	var out []string
	if h.People > 0 {
		out = append(out, peopleWord(h.People)+" told otherwise")
	}
	if h.Asked > 0 {
		out = append(out, peopleWord(h.Asked)+" asked, who may say no")
	}
	if h.Seats > 0 {
		out = append(out, countWord(h.Seats, "seat", "seats")+" off sale")
	}
	if h.Money > 0 {
		out = append(out, h.Money.String())
	}
	if h.Rind > 0 {
		out = append(out, "the rind on "+countWord(h.Rind, "slab", "slabs")+", cured for nine tenths of the weight")
	}
	if h.Own > 0 {
		out = append(out, countWord(h.Own, "slab", "slabs")+" of the shop's own")
	}
	if len(out) == 0 {
		return "no guest is touched"
	}
	text := strings.Join(out, ", ")
	if h.People == 0 && h.Asked == 0 {
		text += "; no guest is touched"
	}
	return text
}

func peopleWord(n int) string { return countWord(n, "person", "people") }

func countWord(n int, one, manyOf string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, manyOf)
}

// touch lists a class's parties: who sits in it, and after a call-off who has yet to
// choose.
func (s *Store) touch(db *gorm.DB, c shop.Class, k shop.ClassKind) (TouchedClass, error) {
	out := TouchedClass{ID: c.ID, Code: c.Code, Title: c.Title, Starts: c.StartsAt, State: c.State, Slabs: k.Slabs, Demos: c.DemoSlabs}
	if k.Slabs {
		ready, err := s.readyAbout(db, c.Day)
		if err != nil {
			return out, err
		}
		out.Ready = ready
	}
	states := holding
	if c.State == shop.ClassOff {
		states = []shop.BookingState{shop.SeatOff}
	}
	var rows []struct {
		shop.Booking
		People int
		Slabs  int
	}
	err := db.Raw(`SELECT b.*, count(*) AS people, sum(s.slabs) AS slabs FROM bookings b JOIN seats s ON s.booking_id = b.id AND s.class_id = b.class_id
		WHERE b.class_id = ? AND s.state IN ? GROUP BY b.id ORDER BY b.number`, c.ID, states).Scan(&rows).Error
	if err != nil {
		return out, fmt.Errorf("parties of %s: %w", c.Code, err)
	}
	for _, r := range rows {
		if c.State == shop.ClassOff && r.AnswerUntil == 0 {
			continue
		}
		out.Bookings = append(out.Bookings, TouchedBooking{ID: r.Booking.ID, Ref: r.Ref(), Name: r.PayerName, Mail: r.PayerEmail != "",
			State: r.State, People: r.People, Slabs: r.Slabs, Paid: r.PaidCents - r.KeptCents, Answer: r.AnswerUntil})
		out.People += r.People
	}
	return out, nil
}

// paid is what the parties of a class have paid.
func (c TouchedClass) paid() unit.Money {
	var sum unit.Money
	for _, b := range c.Bookings {
		sum += b.Paid
	}
	return sum
}

// off is calling a class off as a way out: everybody in it is told otherwise, and what
// they paid goes back.
func (c TouchedClass) off(gain int) TroubleWay {
	return TroubleWay{ID: "off:" + c.Code, Remedy: "call off", What: c.Code, Gain: gain, Rank: 90, Harm: demand.Harm{People: c.People, Money: c.paid()},
		Why: "every booking chooses money back, another date or credit", Costs: fmt.Sprintf("%s and up to %s to give back", peopleWord(c.People), c.paid())}
}
