package store

import (
	"context"
	"fmt"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/season"
	"flitchbook/planner/unit"
)

// SeasonReview is a season looked back on: what each class brought, which promises of a
// date were kept, who came back, whom nobody served, and what the farms' animals gave.
type SeasonReview struct {
	From, To unit.Day
	Classes  []ReviewClass
	Sum      ReviewClass // of them all; Code and days are empty
	Payers   int         // who booked something that was not let go
	Again    int         // of those, who had booked before or booked twice
	Farms    []ReviewFarm
}

// ReviewClass is one class of it.
type ReviewClass struct {
	Code, Title string
	Starts      unit.Instant
	State       shop.ClassState
	Slabs       bool

	Seats, Sold, Came, Missed int
	Pace                      [5]int // seats booked so many days before: PaceDays
	Unserved                  int    // parties that waited to the end
	UnservedSeats             int

	Income, Cost, Margin, ASeat unit.Money

	Made    int      // guests' slabs cut
	Ready   unit.Day // what they were told at first
	Kept    int      // on the shelf by then
	Late    int      // on the shelf later
	Worst   int      // days the latest was late
	Due     int      // not on the shelf yet
	Dumped  int
	Own     int // the shop's own: for showing, and of seats let go
	Left    int // on the shelf or in the freezer still, or given up
	Fetched int
	Days    int // from shelf to hand, summed over those fetched
}

// PaceDays are the days before a class at which its seats are counted.
var PaceDays = [5]int{28, 21, 14, 7, 0}

// DaysEach is how long a packet waited for its person, in tenths of a day; 0 when none
// was fetched.
func (c ReviewClass) DaysEach() float64 {
	if c.Fetched == 0 {
		return 0
	}
	return float64(c.Days*10/c.Fetched) / 10
}

// ReviewFarm is what one farm's delivered animals gave.
type ReviewFarm struct {
	Farm      string
	Species   string
	Animals   int
	Condemned int
	Hot       unit.Weight // of one, on average
	Bellies   int
	BySlabs   map[int]int // how many bellies gave so many slabs
	SkinOn    int         // bellies that kept their skin
}

// SeasonReview looks back on the classes from a day to a day.
func (s *Store) SeasonReview(ctx context.Context, from, to unit.Day) (*SeasonReview, error) {
	if to < from || to > from+3*366 {
		var w shop.Wrong
		w.Add("to", "The last day lies between the first and three years later.")
		return nil, w.Err()
	}
	db := s.read(ctx)
	out := &SeasonReview{From: from, To: to}
	classes, err := many[shop.Class](db, "starts_at, code", "day BETWEEN ? AND ? AND state <> ?", from, to, shop.Sketched)
	if err != nil {
		return nil, err
	}
	kinds, err := many[shop.ClassKind](db, "id", "1 = 1")
	if err != nil {
		return nil, err
	}
	slabs := map[shop.KindID]bool{}
	for _, k := range kinds {
		slabs[k.ID] = k.Slabs
	}
	closed, err := closedForWork(db)
	if err != nil {
		return nil, err
	}
	for i := range classes {
		c := &classes[i]
		r := ReviewClass{Code: c.Code, Title: c.Title, Starts: c.StartsAt, State: c.State, Slabs: slabs[c.KindID], Seats: c.Seats, Sold: c.SeatsTaken}
		if err := s.reviewSeats(db, c, &r); err != nil {
			return nil, err
		}
		if c.State != shop.ClassOff {
			m, err := s.classMoney(db, c)
			if err != nil {
				return nil, err
			}
			r.Income, r.Cost, r.Margin, r.ASeat = m.Account.Income, m.Account.Cost, m.Account.Margin, m.Account.ASeat
		}
		if r.Slabs {
			if err := s.reviewSlabs(db, c, closed, &r); err != nil {
				return nil, err
			}
		}
		out.Classes = append(out.Classes, r)
		out.Sum.add(r)
	}
	if err := s.reviewPayers(db, out); err != nil {
		return nil, err
	}
	return out, s.reviewFarms(db, out)
}

func (c *ReviewClass) add(o ReviewClass) {
	if o.State != shop.ClassOff {
		c.Seats += o.Seats
		c.Sold += o.Sold
	}
	c.Came, c.Missed, c.Unserved, c.UnservedSeats = c.Came+o.Came, c.Missed+o.Missed, c.Unserved+o.Unserved, c.UnservedSeats+o.UnservedSeats
	c.Income, c.Cost, c.Margin = c.Income+o.Income, c.Cost+o.Cost, c.Margin+o.Margin
	c.Made, c.Kept, c.Late, c.Due, c.Dumped = c.Made+o.Made, c.Kept+o.Kept, c.Late+o.Late, c.Due+o.Due, c.Dumped+o.Dumped
	c.Own, c.Left, c.Fetched, c.Days = c.Own+o.Own, c.Left+o.Left, c.Fetched+o.Fetched, c.Days+o.Days
	c.Worst = max(c.Worst, o.Worst)
	for i := range c.Pace {
		c.Pace[i] += o.Pace[i]
	}
}

// reviewSeats counts who came, how early seats were booked, and who waited in vain.
func (s *Store) reviewSeats(db *gorm.DB, c *shop.Class, r *ReviewClass) error {
	var seats []struct {
		State     shop.BookingState
		CreatedAt unit.Instant
	}
	err := db.Raw(`SELECT s.state, b.created_at FROM seats s JOIN bookings b ON b.id = s.booking_id
		WHERE s.class_id = ? AND s.kind <> ? AND s.state IN ?`, c.ID, shop.WatchSeat, holding).Scan(&seats).Error
	if err != nil {
		return fmt.Errorf("seats of %s: %w", c.Code, err)
	}
	for _, seat := range seats {
		switch seat.State {
		case shop.Came:
			r.Came++
		case shop.Missed:
			r.Missed++
		}
		for i, days := range PaceDays {
			if seat.CreatedAt <= c.StartsAt-unit.Instant(days*24*3600) {
				r.Pace[i]++
			}
		}
	}
	var wait struct{ Parties, Seats int }
	// Who was never offered a seat and has none.
	err = db.Raw(`SELECT count(*) AS parties, coalesce(sum(w.seats), 0) AS seats FROM waiting_entries w JOIN bookings b ON b.id = w.booking_id
		WHERE w.class_id = ? AND w.offer_sent_at = 0 AND b.state NOT IN ?`, c.ID, holding).Scan(&wait).Error
	r.Unserved, r.UnservedSeats = wait.Parties, wait.Seats
	return err
}

// reviewSlabs holds each guest's slab against the date its class was told.
func (s *Store) reviewSlabs(db *gorm.DB, c *shop.Class, closed season.Closed, r *ReviewClass) error {
	var rows []struct {
		shop.Slab
		CollectedAt unit.Instant
	}
	err := db.Raw(`SELECT slabs.*, coalesce((SELECT max(done_at) FROM steps WHERE steps.slab_id = slabs.id AND to_state = ? AND counted = ?), 0) AS collected_at
		FROM slabs WHERE class_id = ? AND state NOT IN ? ORDER BY number`, shop.Collected, true, c.ID, []shop.SlabState{shop.Wanted, shop.Replaced}).Scan(&rows).Error
	if err != nil {
		return fmt.Errorf("slabs of %s: %w", c.Code, err)
	}
	r.Ready = s.readyFrom(c.Day, closed)
	for _, sl := range rows {
		if sl.Demo || sl.SeatID == 0 {
			r.Own++
			continue
		}
		r.Made++
		promise := r.Ready
		if sl.SealedOn > c.Day { // sealed for somebody who missed the class: told a date of its own
			promise = s.readyFrom(sl.SealedOn, closed)
		}
		shelf := sl.ShelfAt.Day(s.Loc)
		switch {
		case sl.State == shop.Dumped:
			r.Dumped++
		case sl.ShelfAt == 0:
			r.Due++
		case shelf <= promise:
			r.Kept++
		default:
			r.Late++
			r.Worst = max(r.Worst, int(shelf-promise))
		}
		switch sl.State {
		case shop.OnShelf, shop.InFreezer, shop.GivenUp:
			r.Left++
		case shop.Collected:
			r.Fetched++
			r.Days += int(sl.CollectedAt.Day(s.Loc) - shelf)
		}
	}
	return nil
}

// reviewPayers counts who came back. People are known by the address they book with.
func (s *Store) reviewPayers(db *gorm.DB, out *SeasonReview) error {
	var n struct{ Payers, Again int }
	err := db.Raw(`SELECT count(*) AS payers, coalesce(sum(CASE WHEN n > 1 THEN 1 ELSE 0 END), 0) AS again FROM
		(SELECT b.payer_email, count(*) AS n, sum(CASE WHEN c.day >= ? THEN 1 ELSE 0 END) AS here FROM bookings b JOIN classes c ON c.id = b.class_id
		WHERE c.day <= ? AND b.state IN ? AND b.payer_email <> '' GROUP BY b.payer_email) who WHERE here > 0`,
		out.From, out.To, holding).Scan(&n).Error
	if err != nil {
		return fmt.Errorf("who came back: %w", err)
	}
	out.Payers, out.Again = n.Payers, n.Again
	return nil
}

// reviewFarms counts what the animals of the season's orders gave.
func (s *Store) reviewFarms(db *gorm.DB, out *SeasonReview) error {
	orders, err := many[shop.Order](db, "number", "state IN ? AND id IN (SELECT l.order_id FROM order_lines l JOIN classes c ON c.id = l.class_id WHERE c.day BETWEEN ? AND ?)",
		[]shop.OrderState{shop.Killed, shop.Delivered, shop.Settled}, out.From, out.To)
	if err != nil {
		return err
	}
	at := map[string]int{}
	for i := range orders {
		o := &orders[i]
		y, err := yieldOf(db, o.FarmID, o.Species)
		if err != nil {
			return err
		}
		key := y.Farm.Name + "/" + o.Species
		j, ok := at[key]
		if !ok {
			j, at[key] = len(out.Farms), len(out.Farms)
			out.Farms = append(out.Farms, ReviewFarm{Farm: y.Farm.Name, Species: o.Species, BySlabs: map[int]int{}})
		}
		f := &out.Farms[j]
		animals, err := many[shop.Animal](db, "number", "order_id = ?", o.ID)
		if err != nil {
			return err
		}
		for _, a := range animals {
			if a.Condemned {
				f.Condemned++
				continue
			}
			f.Hot = (f.Hot*unit.Weight(f.Animals) + a.Hot) / unit.Weight(f.Animals+1)
			f.Animals++
		}
		bellies, err := s.bellies(db, o.ID, "a.order_id = ? AND a.condemned = ? ORDER BY a.number, s.which", o.ID, false)
		if err != nil {
			return err
		}
		for _, b := range bellies {
			f.Bellies++
			f.BySlabs[b.Cut.Slabs.Count]++
			if b.SkinOn {
				f.SkinOn++
			}
		}
	}
	return nil
}
