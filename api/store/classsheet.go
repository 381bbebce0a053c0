package store

import (
	"context"
	"fmt"
	"strings"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// ClassSheet is the people of a class as the door and the table need them on paper.
type ClassSheet struct {
	Code     string
	Title    string
	StartsAt unit.Instant
	EndsAt   unit.Instant
	Revision int
	Lines    []SheetLine
	Away     []string // jars kept away
	NotTold  int
	Minors   int
	Owing    unit.Money
	Slabs    bool     // everybody with a seat has one
	Demos    []string // tags of the shop's own slabs
	DemosDue int      // of those, how many are still to be cut
}

// SheetLine is one seat.
type SheetLine struct {
	Seat    int
	SeatID  shop.SeatID
	Name    string
	Ref     string
	Kind    shop.SeatKind
	Tags    []string
	Weights []string
	Jars    []string
	Needs   []string // marks; "ASK" when nobody has told us (R12)
	Minor   bool
	Age     int
	Signed  bool
	Owes    unit.Money // of the booking, on its first line
	State   shop.BookingState
	Note    string
}

// ClassSheet reads a class with everybody who has a seat in it.
func (s *Store) ClassSheet(ctx context.Context, code string) (*ClassSheet, error) {
	db := s.read(ctx)
	c, err := take[shop.Class](db, "Class "+code, "code = ?", code)
	if err != nil {
		return nil, err
	}
	k, err := take[shop.ClassKind](db, "The kind of class", "id = ?", c.KindID)
	if err != nil {
		return nil, err
	}
	sh := &ClassSheet{Code: c.Code, Title: c.Title, StartsAt: c.StartsAt, EndsAt: c.EndsAt, Revision: c.Revision, Slabs: k.Slabs}
	var rows []struct {
		ID             shop.SeatID
		GuestID        shop.GuestID
		Position       int
		Kind           shop.SeatKind
		State          shop.BookingState
		Name           string
		Age            int
		NeedsState     shop.NeedsState
		GuardianSigned bool
		Number         int
		TotalCents     unit.Money
		PaidCents      unit.Money
		KeptCents      unit.Money
		Note           string
	}
	err = db.Raw(`SELECT seats.id, seats.guest_id, seats.position, seats.kind, seats.state, guests.name, guests.age, guests.needs_state, guests.guardian_signed,
		bookings.number, bookings.total_cents, bookings.paid_cents, bookings.kept_cents, bookings.note
		FROM seats JOIN bookings ON bookings.id = seats.booking_id JOIN guests ON guests.id = seats.guest_id
		WHERE seats.class_id = ? AND seats.state IN ? ORDER BY bookings.number, seats.position`, c.ID, []shop.BookingState{shop.Firm, shop.Held, shop.Offered, shop.Came, shop.Missed}).Scan(&rows).Error
	if err != nil {
		return nil, err
	}
	needs, err := many[shop.Need](db, "id", "guest_id IN (SELECT guest_id FROM seats WHERE class_id = ?)", c.ID)
	if err != nil {
		return nil, err
	}
	slabs, err := many[shop.Slab](db, "number", "class_id = ? AND state NOT IN ?", c.ID, []shop.SlabState{shop.Dumped, shop.Replaced})
	if err != nil {
		return nil, err
	}
	last := 0
	for i, r := range rows {
		l := SheetLine{Seat: i + 1, SeatID: r.ID, Name: firstName(r.Name), Ref: shop.Ref(r.Number), Kind: r.Kind, State: r.State, Age: r.Age, Signed: r.GuardianSigned}
		if r.Number != last {
			l.Owes, l.Note = shop.Booking{TotalCents: r.TotalCents, PaidCents: r.PaidCents, KeptCents: r.KeptCents}.Owes(), r.Note
			sh.Owing += l.Owes
			last = r.Number
		}
		l.Minor = r.Age > 0 && r.Age < 18
		if l.Minor {
			sh.Minors++
		}
		if l.Needs = needMarks(r.NeedsState, r.GuestID, needs); r.NeedsState != shop.NoNeeds && r.NeedsState != shop.HasNeeds {
			sh.NotTold++
		}
		for i := range slabs {
			if slabs[i].SeatID != r.ID {
				continue
			}
			l.Tags = append(l.Tags, slabs[i].Tag)
			w := slabs[i].Green
			if w == 0 {
				w = slabs[i].Planned
			}
			l.Weights = append(l.Weights, w.LB())
		}
		if l.Jars, err = s.seatJars(ctx, r.ID); err != nil {
			return nil, err
		}
		sh.Lines = append(sh.Lines, l)
	}
	for _, sl := range slabs {
		if sl.SeatID == 0 {
			sh.Demos = append(sh.Demos, sl.Tag)
		}
	}
	sh.DemosDue = max(0, c.DemoSlabs-len(sh.Demos))
	return sh, db.Raw("SELECT jars.code FROM jars JOIN jars_away ON jars_away.jar_id = jars.id WHERE jars_away.class_id = ? ORDER BY jars.id", c.ID).Scan(&sh.Away).Error
}

// needMarks writes a guest's needs for the sheet. What nobody has told us is never shown
// as "none".
func needMarks(state shop.NeedsState, id shop.GuestID, needs []shop.Need) []string {
	switch state {
	case shop.NoNeeds:
		return []string{"none"}
	case shop.HasNeeds:
	default:
		return []string{"ASK"}
	}
	var out []string
	for _, n := range needs {
		if n.GuestID != id {
			continue
		}
		mark := n.Allergen
		if n.Allergen == "other" && n.Words != "" {
			mark = n.Words
		} else if n.Words != "" {
			mark = fmt.Sprintf("%s (%s)", n.Allergen, n.Words)
		}
		if n.Severe {
			mark = strings.ToUpper(mark) + " – SEVERE"
		}
		out = append(out, mark)
	}
	if len(out) == 0 {
		return []string{"ASK"}
	}
	return out
}

func (s *Store) seatJars(ctx context.Context, seat shop.SeatID) ([]string, error) {
	var rows []struct {
		State shop.PickState
		Code  string
	}
	err := s.read(ctx).Raw("SELECT picks.state, coalesce(jars.code, '') AS code FROM picks LEFT JOIN jars ON jars.id = picks.jar_id WHERE picks.seat_id = ? ORDER BY picks.slot", seat).Scan(&rows).Error
	var out []string
	for _, r := range rows {
		if r.State == shop.PickMade && r.Code != "" {
			out = append(out, r.Code)
		} else {
			out = append(out, "ask")
		}
	}
	return out, err
}
