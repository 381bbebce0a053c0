package store

import (
	"cmp"
	"context"
	"fmt"
	"slices"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/table"
	"flitchbook/planner/unit"
)

// What the kitchen sees: heads, needs, wine and meat of a dinner. Never an address, a
// phone number or money, and of needs only those of the class asked for (R14).

// A Dinner is a class that eats.
type Dinner struct {
	Code      string
	Title     string // its own, or its kind's name
	Kind      string // in words: "Pig butchery clinic"
	StartsAt  unit.Instant
	Day       unit.Day
	State     shop.ClassState
	Heads     int // surely coming: firm, or here already
	Held      int // more who may come: being paid for, or offered
	NotTold   int // of both, people whose food needs nobody knows
	Severe    int // needs somebody marked severe
	FreezesAt unit.Instant
	Frozen    bool // changes from now on stand in a box of their own
}

// A TableSheet is one dinner for the kitchen.
type TableSheet struct {
	Dinner
	Version int // rises with every change that was noted of the class and its people
	Sure    table.Count
	Maybe   table.Count // people whose seats are held or offered
	All     table.Count // both; the dishes to keep away follow from it
	People  []AtTable
	Changes []TableChange   // since the sheet froze, the newest last
	Buy     *table.Purchase // for all heads; nil when the dinner is no roast or nobody comes
	Menu    []MenuLine      // every dish it could have
	Dishes  []table.Laid    // what is wanted, against the people
	NotFrom []string        // lots of the class's own meat: never the dinner's (R22)
	Lot     string          // lot the kitchen has settled on, "" before
}

// AtTable is one person at a dinner.
type AtTable struct {
	Place   int    // from 1, in the order of booking numbers
	Booking string // "K39"
	Name    string // as the party gave it; "" while nobody is named
	Ask     bool   // not told: ask before anything is served
	None    bool   // told that there is nothing
	Needs   []table.Need
	Wine    bool // said yes and is old enough
	Minor   bool
	Watch   bool
	Held    bool // may yet not come
}

// TableChange is one change after the sheet froze.
type TableChange struct {
	At      unit.Instant
	Booking string // "" for the class itself
	Name    string // of the person, when it is about one
	What    string
}

// dinnerWeeks is how far ahead the kitchen looks.
const dinnerWeeks = 6

const grownUp = 18

// Dinners lists the dinners from today on, the soonest first.
func (s *Store) Dinners(ctx context.Context) ([]Dinner, error) {
	db, today := s.read(ctx), s.Today()
	var rows []dinnerClass
	err := db.Raw(dinnerQuery+" AND c.day >= ? AND c.day <= ? AND c.state IN ? ORDER BY c.starts_at, c.code", true,
		today, today+7*dinnerWeeks, []shop.ClassState{shop.Open, shop.GoingAhead, shop.Taught}).Scan(&rows).Error
	if err != nil || len(rows) == 0 {
		return nil, err
	}
	ids := make([]shop.ClassID, len(rows))
	for i, r := range rows {
		ids[i] = r.ID
	}
	people, err := s.peopleOf(db, ids...)
	if err != nil {
		return nil, err
	}
	out := make([]Dinner, 0, len(rows))
	for _, r := range rows {
		sheet, err := s.laid(r, people[r.ID])
		if err != nil {
			return nil, err
		}
		out = append(out, sheet.Dinner)
	}
	return out, nil
}

// TableSheet is the sheet of the dinner of one class.
func (s *Store) TableSheet(ctx context.Context, code string) (*TableSheet, error) {
	db := s.read(ctx)
	var rows []dinnerClass
	if err := db.Raw(dinnerQuery+" AND c.code = ?", true, trim(code)).Scan(&rows).Error; err != nil {
		return nil, err
	}
	if len(rows) == 0 {
		return nil, shop.Missing(fmt.Sprintf("A dinner called %q", trim(code)))
	}
	c := rows[0]
	// The changes are read before the people: a sheet may know more than its version says,
	// never less.
	changes, err := s.tableChanges(db, c.ID)
	if err != nil {
		return nil, err
	}
	people, err := s.peopleOf(db, c.ID)
	if err != nil {
		return nil, err
	}
	sheet, err := s.laid(c, people[c.ID])
	if err != nil {
		return nil, err
	}
	if err := s.lay(db, c, sheet, people[c.ID]); err != nil {
		return nil, err
	}
	sheet.Version = c.Revision + len(changes)
	for _, ch := range changes {
		if ch.At >= sheet.FreezesAt {
			sheet.Changes = append(sheet.Changes, ch.TableChange)
		}
	}
	err = db.Raw("SELECT d.lot FROM dinner_meats m JOIN deliveries d ON d.id = m.delivery_id WHERE m.class_id = ? AND m.ended_at = 0", c.ID).Scan(&sheet.Lot).Error
	if err != nil {
		return nil, err
	}
	if c.OrderID != 0 {
		err := db.Raw("SELECT lot FROM deliveries WHERE order_id = ? ORDER BY id", c.OrderID).Scan(&sheet.NotFrom).Error
		if err != nil {
			return nil, err
		}
	}
	return sheet, nil
}

type dinnerClass struct {
	ID       shop.ClassID
	Code     string
	Title    string
	Kind     string
	Species  string
	StartsAt unit.Instant
	Day      unit.Day
	State    shop.ClassState
	OrderID  shop.OrderID
	Revision int
}

const dinnerQuery = `SELECT c.id, c.code, c.title, k.name AS kind, k.species, c.starts_at, c.day, c.state, c.order_id, c.revision
	FROM classes c JOIN class_kinds k ON k.id = c.kind_id WHERE k.dinner = ?`

// laid sets a class's table.
func (s *Store) laid(c dinnerClass, people []seatPerson) (*TableSheet, error) {
	rules := s.tableRules()
	var sure, maybe []table.Person
	sheet := &TableSheet{Dinner: Dinner{Code: c.Code, Title: cmp.Or(c.Title, c.Kind), Kind: c.Kind, StartsAt: c.StartsAt, Day: c.Day, State: c.State}}
	for i, p := range people {
		settled, held := p.Settled(), p.state == shop.Held || p.state == shop.Offered
		if held {
			maybe = append(maybe, p.Person)
		} else {
			sure = append(sure, p.Person)
		}
		sheet.People = append(sheet.People, AtTable{Place: i + 1, Booking: shop.Ref(p.number), Name: p.name,
			Ask: settled == table.NotTold, None: settled == table.None, Needs: p.Needs, Held: held, Watch: p.Watch,
			Wine: p.Wine && (p.Age == 0 || p.Age >= s.Rules.WineAge), Minor: p.Age > 0 && p.Age < grownUp})
	}
	sheet.Sure, sheet.Maybe = table.Of(sure, rules), table.Of(maybe, rules)
	sheet.All = table.Of(slices.Concat(sure, maybe), rules)
	for _, count := range []table.Count{sheet.Sure, sheet.Maybe, sheet.All} {
		if err := count.Check().Err(); err != nil {
			return nil, fmt.Errorf("table of %s: %w", c.Code, err)
		}
	}
	d := &sheet.Dinner
	d.Heads, d.Held, d.NotTold, d.Severe = sheet.Sure.Heads, sheet.Maybe.Heads, sheet.All.NotTold, len(sheet.All.Severe())
	d.FreezesAt = (c.Day - unit.Day(s.Rules.TableFreeze)).At(0, 0, s.Loc)
	d.Frozen = s.Now() >= d.FreezesAt
	if r, ok := table.RoastFor(c.Species); ok && sheet.All.Heads > 0 {
		buy, err := r.Buy(sheet.All.Heads, s.Rules.DinnerPortion)
		if err != nil {
			return nil, fmt.Errorf("meat for %s: %w", c.Code, err)
		}
		sheet.Buy = &buy
	}
	return sheet, nil
}

// lay puts the dishes on a class's table: those that hold a severe need are marked away.
func (s *Store) lay(db *gorm.DB, c dinnerClass, sheet *TableSheet, people []seatPerson) (err error) {
	if sheet.Menu, err = menuOf(db, c.ID, sheet.All.Severe()); err != nil {
		return err
	}
	heads := make([]table.Person, len(people))
	for i, p := range people {
		heads[i] = p.Person
	}
	sheet.Dishes = table.Cross(heads, sheet.All, s.tableRules(), dishesOf(sheet.Menu))
	return table.CheckLaid(sheet.All, sheet.Dishes).Err()
}

func (s *Store) tableRules() table.Rules {
	return table.Rules{Order: shop.Allergens, WineAge: s.Rules.WineAge, Grown: grownUp}
}

type seatPerson struct {
	table.Person
	number int // of the booking
	name   string
	state  shop.BookingState
}

// peopleOf reads who sits at the tables of classes, in the order of booking numbers, with
// their needs: one query, so that an answer and its list are of one moment.
func (s *Store) peopleOf(db *gorm.DB, classes ...shop.ClassID) (map[shop.ClassID][]seatPerson, error) {
	var rows []struct {
		ClassID    shop.ClassID
		SeatID     shop.SeatID
		Kind       shop.SeatKind
		State      shop.BookingState
		Number     int
		Name       string
		Age        int
		Wine       bool
		NeedsState shop.NeedsState
		Allergen   *string
		Severe     bool // these two mean nothing without an allergen
		Words      string
	}
	err := db.Raw(`SELECT s.class_id, s.id AS seat_id, s.kind, s.state, b.number, g.name, g.age, g.wine, g.needs_state, n.allergen, COALESCE(n.severe, ?) AS severe, COALESCE(n.words, '') AS words
		FROM seats s JOIN bookings b ON b.id = s.booking_id JOIN guests g ON g.id = s.guest_id LEFT JOIN needs n ON n.guest_id = g.id
		WHERE s.class_id IN ? AND s.state IN ? ORDER BY s.class_id, b.number, s.position, s.id, n.id`, false, classes,
		[]shop.BookingState{shop.Offered, shop.Held, shop.Firm, shop.Came}).Scan(&rows).Error
	if err != nil {
		return nil, err
	}
	out := map[shop.ClassID][]seatPerson{}
	last := shop.SeatID(0)
	for _, r := range rows {
		people := out[r.ClassID]
		if r.SeatID != last {
			last = r.SeatID
			people = append(people, seatPerson{number: r.Number, name: r.Name, state: r.State,
				Person: table.Person{Answer: answerOf(r.NeedsState), Wine: r.Wine, Age: r.Age, Watch: r.Kind == shop.WatchSeat}})
		}
		if r.Allergen != nil {
			p := &people[len(people)-1]
			p.Needs = append(p.Needs, table.Need{What: *r.Allergen, Severe: r.Severe, Words: r.Words})
		}
		out[r.ClassID] = people
	}
	return out, nil
}

// answerOf is what a stored answer counts as; one that is not known is not told.
func answerOf(s shop.NeedsState) table.Answer {
	switch s {
	case shop.NoNeeds:
		return table.None
	case shop.HasNeeds:
		return table.List
	}
	return table.NotTold
}
