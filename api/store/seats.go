package store

import (
	"fmt"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// takeSeats takes n places of a class, or says why not. The database decides: the
// condition and the change are one statement (invariant: held, offered and firm seats
// never pass the seats of the class).
func (t tx) takeSeats(c *shop.Class, n int, by shop.Actor) error {
	if c.Private && !by.IsStaff() {
		return shop.ErrClassClosed
	}
	res := t.Exec(`UPDATE classes SET seats_taken = seats_taken + ?, revision = revision + 1
		WHERE id = ? AND seats_taken + ? <= seats AND starts_at > ? AND state IN (?, ?)`,
		n, c.ID, n, t.now, shop.Open, shop.GoingAhead)
	if res.Error != nil {
		return res.Error
	}
	if res.RowsAffected == 1 {
		c.SeatsTaken += n
		t.meatFollows(c)
		return nil
	}
	now, err := t.lockClass(c.ID)
	if err != nil {
		return err
	}
	*c = *now
	return t.whyNoSeat(c, n)
}

func (t tx) whyNoSeat(c *shop.Class, n int) error {
	switch {
	case c.State == shop.ClassOff:
		return shop.ErrClassClosed.Saying("This class was called off.")
	case c.StartsAt <= t.now:
		return shop.ErrClassClosed.Saying("This class has already begun.")
	case c.State != shop.Open && c.State != shop.GoingAhead:
		return shop.ErrClassClosed
	}
	room, err := roomOf(t.DB, []shop.ClassID{c.ID})
	if err != nil {
		return err
	}
	held, until := room[c.ID].Held, room[c.ID].Until
	if n <= c.Left()+held {
		return shop.ErrClassHeld.Saying("%s", heldWords(c.Left(), held, n, t.untilWhen(until)))
	}
	if c.Left() > 0 {
		return shop.ErrClassFull.Saying("Only %d of the seats you want are left in this class.", c.Left())
	}
	return shop.ErrClassFull
}

// untilWhen is the hour of a moment today, and of any other day its date too.
func (t tx) untilWhen(at unit.Instant) string {
	if at.Day(t.s.Loc) == t.today {
		return at.Clock(t.s.Loc)
	}
	return at.Show(t.s.Loc)
}

func heldWords(left, held, n int, until string) string {
	if left > 0 {
		return fmt.Sprintf("%d left, and the other seats you want are being held, until %s.", left, until)
	}
	if held == 1 || n == 1 {
		return fmt.Sprintf("The last seats are being held, until %s. They may come free then.", until)
	}
	return fmt.Sprintf("The last %d seats are being held, until %s. They may come free then.", held, until)
}

// freeSeats gives n places of a class back. The caller has locked the class.
func (t tx) freeSeats(c *shop.Class, n int) error {
	if n == 0 {
		return nil
	}
	res := t.Exec("UPDATE classes SET seats_taken = seats_taken - ?, revision = revision + 1 WHERE id = ? AND seats_taken >= ?", n, c.ID, n)
	if err := changed(res, fmt.Errorf("class %s has fewer seats taken than the %d given back", c.Code, n)); err != nil {
		return err
	}
	c.SeatsTaken -= n
	t.meatFollows(c)
	return nil
}

// meatFollows brings the cut list of a class into line once its seats stand as they will.
func (t tx) meatFollows(c *shop.Class) {
	if c.OrderID != 0 && c.State != shop.ClassOff {
		t.beforeCommit("meat of "+c.Code, func(t tx) error { return t.seatsChanged(c.ID) })
	}
}

// places counts the seats that take a place in the class.
func places(seats []shop.Seat) int {
	n := 0
	for _, s := range seats {
		if s.TakesPlace() {
			n++
		}
	}
	return n
}

// standing lists a booking's seats in one of the states, in order of position.
func (t tx) standing(b *shop.Booking, states ...shop.BookingState) ([]shop.Seat, error) {
	return many[shop.Seat](t.DB, "position, id", "booking_id = ? AND state IN ?", b.ID, states)
}

// turnSeats moves seats of a booking from one state to another; all must still be there.
func (t tx) turnSeats(seats []shop.Seat, to shop.BookingState) error {
	for i := range seats {
		if err := shop.BookingMoves.Check(seats[i].State, to); err != nil {
			return err
		}
		res := t.Model(&shop.Seat{}).Where("id = ? AND state = ?", seats[i].ID, seats[i].State).Update("state", to)
		if err := changed(res, shop.ErrMoved); err != nil {
			return err
		}
		seats[i].State = to
	}
	return nil
}

// updateBooking writes the given columns and raises the revision. The books follow.
func (t tx) updateBooking(b *shop.Booking, set map[string]any) error {
	set["revision"] = gorm.Expr("revision + 1")
	before := *b
	res := t.Model(&shop.Booking{}).Where("id = ?", b.ID).Updates(set)
	if err := changed(res, shop.Missing("The booking")); err != nil {
		return err
	}
	fresh, err := take[shop.Booking](t.DB, "The booking", "id = ?", b.ID)
	if err != nil {
		return err
	}
	*b = *fresh
	return t.booksFollow(before, b)
}

// openBooking reads a booking and holds its class until the use case is over.
func (t tx) openBooking(id shop.BookingID) (*shop.Booking, *shop.Class, error) {
	b, err := take[shop.Booking](t.DB, "The booking", "id = ?", id)
	if err != nil {
		return nil, nil, err
	}
	c, err := t.lockClass(b.ClassID)
	if err != nil {
		return nil, nil, err
	}
	class := b.ClassID
	if b, err = take[shop.Booking](t.DB, "The booking", "id = ?", id); err != nil {
		return nil, nil, err
	}
	if b.ClassID != class {
		return nil, nil, shop.ErrStale
	}
	return b, c, nil
}
