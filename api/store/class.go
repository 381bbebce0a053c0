package store

import (
	"context"
	"fmt"
	"strings"
	"time"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// AddClass sketches a class: only the shop sees it until it is published.
func (s *Store) AddClass(ctx context.Context, by shop.Actor, n shop.NewClass) (*shop.Class, error) {
	var c *shop.Class
	err := s.tx(ctx, func(t tx) (err error) {
		c, err = t.addClass(by, n)
		return err
	})
	if err != nil {
		return nil, err
	}
	return c, nil
}

func (t tx) addClass(by shop.Actor, n shop.NewClass) (*shop.Class, error) {
	if err := n.Check(t.now); err != nil {
		return nil, err
	}
	k, err := take[shop.ClassKind](t.DB, "The kind of class", "code = ?", n.Kind)
	if err != nil {
		return nil, err
	}
	c := shop.Class{Code: n.Code, KindID: k.ID, Title: trim(n.Title), StartsAt: n.StartsAt, Day: n.StartsAt.Day(t.s.Loc),
		Seats: n.Seats, MinSeats: n.MinSeats, State: shop.Sketched, DemoSlabs: n.DemoSlabs,
		Private: n.Private, FlatCents: n.FlatCents, DecideAt: n.DecideAt, CreatedAt: t.now}
	if c.Title == "" {
		c.Title = k.Name
	}
	if c.Seats == 0 {
		c.Seats = k.Seats
	}
	if c.MinSeats < 0 {
		c.MinSeats = k.MinSeats
	}
	if c.DemoSlabs < 0 {
		c.DemoSlabs = t.s.Rules.DemoSlabs
	}
	if !k.Slabs {
		c.DemoSlabs = 0
	}
	minutes := n.Minutes
	if minutes == 0 {
		minutes = k.Minutes
	}
	c.EndsAt = c.StartsAt.Add(time.Duration(minutes) * time.Minute)
	if c.Seats == 0 || minutes == 0 {
		return nil, shop.Bad("class", "This kind of class has no usual size or length; write the seats and the minutes.")
	}
	if err := t.Create(&c).Error; isDuplicate(err) {
		return nil, &shop.Error{Kind: shop.Invalid, Code: "invalid", Text: "Please look at the marked answers again.",
			Fields: map[string]string{"code": fmt.Sprintf("There is already a class %s.", n.Code)}}
	} else if err != nil {
		return nil, err
	}
	return &c, t.note(by, "class", int64(c.ID), "sketched", "", string(c.State), c.Code)
}

// Publish opens a sketched class for booking, if the season can carry it.
func (s *Store) Publish(ctx context.Context, by shop.Actor, code string) error {
	return s.moveClass(ctx, by, code, shop.Open, "published", func(t tx, c *shop.Class) error {
		if c.StartsAt <= t.now {
			return shop.Stop("class_past", "This class's day has passed.")
		}
		if err := t.mayPublish(c); err != nil {
			return err
		}
		c.State = shop.Open
		return t.classEntry(c)
	})
}

// GoAhead decides that a class takes place (R10). It may be said under the minimum too:
// that is the owner's to say.
func (s *Store) GoAhead(ctx context.Context, by shop.Actor, code string) error {
	return s.moveClass(ctx, by, code, shop.GoingAhead, "going ahead", nil)
}

// MarkTaught notes that a class took place.
func (s *Store) MarkTaught(ctx context.Context, by shop.Actor, code string) error {
	return s.moveClass(ctx, by, code, shop.Taught, "taught", func(t tx, c *shop.Class) error {
		if c.StartsAt > t.now {
			return shop.Stop("class_ahead", "This class has not begun yet.")
		}
		return t.earnClass(by, c)
	})
}

// CloseOut ends a class's work: as many slabs sealed as were kitted and cut. The slab of
// somebody who missed the class may be kept with its kit (R43); any other that is not
// sealed is named, and the class stays open.
func (s *Store) CloseOut(ctx context.Context, by shop.Actor, code string) error {
	return s.moveClass(ctx, by, code, shop.ClosedOut, "closed out", func(t tx, c *shop.Class) error {
		n, err := countSealed(t.DB, c.ID)
		if err != nil || len(n.Missing) == 0 {
			return err
		}
		return shop.Stop("not_all_sealed", "%s: %d cut, %d kitted, %d sealed of %d. Not sealed: %s. Find it and seal it, then close the class out.",
			c.Code, n.Cut, n.Kitted, n.Sealed, n.Of, strings.Join(n.Missing, ", "))
	})
}

func (s *Store) moveClass(ctx context.Context, by shop.Actor, code string, to shop.ClassState, what string, also func(tx, *shop.Class) error) error {
	return s.tx(ctx, func(t tx) error {
		c, err := t.lockClassCode(code)
		if err != nil {
			return err
		}
		from := c.State
		if err := shop.ClassMoves.Check(from, to); err != nil {
			return err
		}
		if also != nil {
			if err := also(t, c); err != nil {
				return err
			}
		}
		res := t.Model(&shop.Class{}).Where("id = ? AND state = ?", c.ID, from).Update("state", to)
		if err := changed(res, shop.ErrMoved); err != nil {
			return err
		}
		return t.note(by, "class", int64(c.ID), what, string(from), string(to), "")
	})
}

// classEntry writes a class's calendar entry as it now stands.
func (t tx) classEntry(c *shop.Class) error {
	_, err := t.setEntry(shop.Entry{UID: t.s.uid("class", int64(c.ID)), Kind: "class", Subject: "class", SubjectID: int64(c.ID),
		StartsAt: c.StartsAt, EndsAt: c.EndsAt, Title: c.Title, Text: c.Code, Cancelled: c.State == shop.ClassOff})
	return err
}

// lockClass raises a class's revision, which holds its row until the use case is over:
// whoever else would change seats, bookings or answers of this class waits.
func (t tx) lockClass(id shop.ClassID) (*shop.Class, error) {
	res := t.Exec("UPDATE classes SET revision = revision + 1 WHERE id = ?", id)
	if err := changed(res, shop.Missing("The class")); err != nil {
		return nil, err
	}
	return take[shop.Class](t.DB, "The class", "id = ?", id)
}

func (t tx) lockClassCode(code string) (*shop.Class, error) {
	c, err := take[shop.Class](t.DB, "The class", "code = ?", code)
	if err != nil {
		return nil, err
	}
	return t.lockClass(c.ID)
}

// lockClasses locks two classes in the order of their ids, as every use case must.
func (t tx) lockClasses(a, b shop.ClassID) (ca, cb *shop.Class, err error) {
	if a > b {
		cb, ca, err = t.lockClasses(b, a)
		return ca, cb, err
	}
	if ca, err = t.lockClass(a); err != nil {
		return nil, nil, err
	}
	if a == b {
		return ca, ca, nil
	}
	cb, err = t.lockClass(b)
	return ca, cb, err
}

func (t tx) kindOf(c *shop.Class) (*shop.ClassKind, error) {
	return take[shop.ClassKind](t.DB, "The kind of class", "id = ?", c.KindID)
}

// priceAt is what a seat costs a booking made at an instant (R1).
func (t tx) priceAt(kind shop.KindID, seat shop.SeatKind, at unit.Instant) (unit.Money, error) {
	p, err := many[shop.Price](t.DB.Limit(1), "from_at DESC", "kind_id = ? AND seat = ? AND from_at <= ?", kind, seat, at)
	if err != nil {
		return 0, err
	}
	if len(p) == 0 {
		return 0, shop.Stop("no_price", "The shop has not set a price for this seat yet; please ask at the counter.")
	}
	return p[0].Cents, nil
}
