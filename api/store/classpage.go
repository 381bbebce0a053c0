package store

import (
	"context"
	"sort"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// A ClassCard is a class as the season page shows it.
type ClassCard struct {
	ID          shop.ClassID
	Code        string
	Title       string
	Kind        string // code of the kind
	KindName    string
	State       shop.ClassState
	Private     bool
	StartsAt    unit.Instant
	EndsAt      unit.Instant
	Day         unit.Day
	Seats       int
	Taken       int
	Left        int
	Held        int // of those taken, places somebody is paying for or was offered
	HeldUntil   unit.Instant
	Waiting     int        // parties on the waiting list
	Price       unit.Money // of a seat, booked now
	WatchPrice  unit.Money
	SecondPrice unit.Money
	Flat        unit.Money // of a private party
	NextPrice   unit.Money // the price that comes into force next, if one is set; 0 else
	NextFrom    unit.Instant
	Slabs       bool
	Dinner      bool
	ReadyAbout  unit.Day
	OnSale      bool
	MinSeats    int
}

// A SeasonPage is what is open, in order of time, and which class to book for the next
// holiday.
type SeasonPage struct {
	Classes []ClassCard
	Holiday Holiday
}

// Holiday answers "is it ready before…" (the zero Holiday: no closed day ahead).
type Holiday struct {
	Day    unit.Day
	Reason string
	Last   *ClassCard // the last class whose bacon is ready before it; nil when none is left
}

// SeasonPage reads the public season.
func (s *Store) SeasonPage(ctx context.Context) (*SeasonPage, error) {
	db, now := s.read(ctx), s.Now()
	classes, err := many[shop.Class](db, "starts_at, code", "private = ? AND state IN (?, ?) AND starts_at > ?", false, shop.Open, shop.GoingAhead, now)
	if err != nil {
		return nil, err
	}
	page := &SeasonPage{}
	if page.Classes, err = s.cards(db, classes, now); err != nil {
		return nil, err
	}
	page.Holiday, err = s.holiday(db, now)
	return page, err
}

// holiday finds the next day the counter is shut outside its weekly rhythm and the last
// class, past ones left out, whose bacon is ready before it.
func (s *Store) holiday(db *gorm.DB, now unit.Instant) (Holiday, error) {
	var h Holiday
	days, err := many[shop.ClosedDay](db, "day", "counter = ? AND day > ?", true, s.Today())
	if err != nil || len(days) == 0 {
		return h, err
	}
	h.Day, h.Reason = days[0].Day, days[0].Reason
	classes, err := many[shop.Class](db, "starts_at", `private = ? AND state IN (?, ?) AND starts_at > ? AND day < ?
		AND kind_id IN (SELECT id FROM class_kinds WHERE slabs = ?)`, false, shop.Open, shop.GoingAhead, now, h.Day, true)
	if err != nil {
		return h, err
	}
	closed, err := closedForWork(db)
	if err != nil {
		return h, err
	}
	var sat []unit.Day
	for _, c := range classes {
		sat = append(sat, c.Day)
	}
	chain, ok := s.Rules.Curing().LastBefore(sat, h.Day, closed)
	if !ok {
		return h, nil
	}
	for i := range classes {
		if classes[i].Day == chain.Seal {
			card, err := s.card(db, &classes[i], now)
			if err != nil {
				return h, err
			}
			h.Last = &card
		}
	}
	return h, nil
}

// A ClassPage is all a visitor may know of one class.
type ClassPage struct {
	ClassCard
	Does, Sees, Eats, Takes, Wear, Access string
	MinAge, WatchAge                      int
	Jars                                  []JarChoice
	Dishes                                []MenuLine  // wanted at its dinner; what is away is away for everybody (R13)
	Others                                []ClassCard // other dates of the same kind that have room
	FullBackDays, ChooseDays              int         // R4, for the words on the page
	HoldMinutes                           int
	Asked                                 []shop.Question // the little questions
}

// JarChoice is a spice on the table, or away that day (R13: never why).
type JarChoice struct {
	Code      string
	Name      string
	Contents  string
	Allergens string
	Away      bool
}

// ClassPage reads a public class by its code. A private or sketched class is not found.
func (s *Store) ClassPage(ctx context.Context, code string) (*ClassPage, error) {
	return s.classPage(ctx, code, false)
}

// AnyClass reads any class for the shop's own people.
func (s *Store) AnyClass(ctx context.Context, code string) (*ClassPage, error) {
	return s.classPage(ctx, code, true)
}

func (s *Store) classPage(ctx context.Context, code string, any bool) (*ClassPage, error) {
	db, now := s.read(ctx), s.Now()
	c, err := take[shop.Class](db, "The class", "code = ?", code)
	if err != nil {
		return nil, err
	}
	if !any && (c.Private || c.State == shop.Sketched) {
		return nil, shop.Missing("The class")
	}
	k, err := take[shop.ClassKind](db, "The kind of class", "id = ?", c.KindID)
	if err != nil {
		return nil, err
	}
	p := &ClassPage{Does: k.Does, Sees: k.Sees, Eats: k.Eats, Takes: k.Takes, Wear: k.Wear, Access: k.Access, MinAge: k.MinAge, WatchAge: k.WatchAge, Asked: k.Questions(),
		FullBackDays: s.Rules.FullBackDays, ChooseDays: s.Rules.ChooseDays, HoldMinutes: s.Rules.HoldOnline}
	if p.ClassCard, err = s.card(db, c, now); err != nil {
		return nil, err
	}
	if k.Slabs {
		if p.Jars, err = s.jarChoices(db, c.ID); err != nil {
			return nil, err
		}
	}
	if k.Dinner {
		if p.Dishes, err = s.dishesServed(db, c.ID); err != nil {
			return nil, err
		}
	}
	others, err := many[shop.Class](db, "starts_at", "kind_id = ? AND id <> ? AND private = ? AND state IN (?, ?) AND starts_at > ? AND seats_taken < seats",
		k.ID, c.ID, false, shop.Open, shop.GoingAhead, now)
	if err != nil {
		return nil, err
	}
	p.Others, err = s.cards(db, others, now)
	return p, err
}

func (s *Store) jarChoices(db *gorm.DB, class shop.ClassID) ([]JarChoice, error) {
	jars, err := many[shop.Jar](db, "id", "1 = 1")
	if err != nil {
		return nil, err
	}
	away, err := many[shop.JarAway](db, "jar_id", "class_id = ?", class)
	if err != nil {
		return nil, err
	}
	gone := map[shop.JarID]bool{}
	for _, a := range away {
		gone[a.JarID] = true
	}
	var out []JarChoice
	for _, j := range jars {
		out = append(out, JarChoice{j.Code, j.Name, j.Contents, j.Allergens, gone[j.ID]})
	}
	return out, nil
}

// Classes lists every class for the shop's own people, in order of time.
func (s *Store) Classes(ctx context.Context, from unit.Day) ([]ClassCard, error) {
	db, now := s.read(ctx), s.Now()
	classes, err := many[shop.Class](db, "starts_at, code", "day >= ?", from)
	if err != nil {
		return nil, err
	}
	return s.cards(db, classes, now)
}

// A DoorList is the people of one class as the door and the table see them.
type DoorList struct {
	Class    ClassPage
	Parties  []BookingView
	NotTold  int
	Minors   int
	Came     int
	Expected int
}

// DoorList reads the parties of a class, in order of booking number.
func (s *Store) DoorList(ctx context.Context, code string) (*DoorList, error) {
	p, err := s.AnyClass(ctx, code)
	if err != nil {
		return nil, err
	}
	bookings, err := many[shop.Booking](s.read(ctx), "number", "class_id = ?", p.ID)
	if err != nil {
		return nil, err
	}
	d := &DoorList{Class: *p}
	for i := range bookings {
		v, err := s.bookingView(ctx, &bookings[i])
		if err != nil {
			return nil, err
		}
		d.Parties = append(d.Parties, *v)
		for _, m := range v.People {
			if m.State != shop.Firm && m.State != shop.Came {
				continue
			}
			d.Expected++
			if m.State == shop.Came {
				d.Came++
			}
			if !m.Told {
				d.NotTold++
			}
			if m.Age > 0 && m.Age < 18 {
				d.Minors++
			}
		}
	}
	sort.SliceStable(d.Parties, func(i, j int) bool {
		return standingFirst(d.Parties[i].State) < standingFirst(d.Parties[j].State)
	})
	return d, nil
}

func standingFirst(s shop.BookingState) int {
	switch s {
	case shop.Firm, shop.Came, shop.Missed:
		return 0
	case shop.Held, shop.Offered:
		return 1
	case shop.Waiting:
		return 2
	}
	return 3
}
