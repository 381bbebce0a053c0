package store

import (
	"context"
	"fmt"
	"strings"
	"time"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// A GuestPage is what one person of a party sees: only their own name, answers and picks,
// and no price.
type GuestPage struct {
	ID         shop.GuestID
	Name       string
	Email      string
	Age        int
	Wine       bool
	Remember   bool
	NeedsState shop.NeedsState
	Needs      []shop.NewNeed
	Kind       shop.SeatKind
	Slabs      int
	State      shop.BookingState
	Picks      []PickView
	Jars       []JarChoice
	Class      ClassCard
	Wear       string
	Access     string
	InvitedBy  string
	PicksUntil unit.Instant // after that the spice is chosen at the table
	CureUntil  unit.Instant // they missed the class: until then they choose the spice of the slab kept for them (R43)
	Secret     string
}

// GuestPage reads the page a guest's private link belongs to.
func (s *Store) GuestPage(ctx context.Context, secret string) (*GuestPage, error) {
	g, err := take[shop.Guest](s.read(ctx), "A guest with this link", "token_hash = ? AND link_no <> 0", hashOf(secret))
	if err != nil {
		return nil, err
	}
	p, err := s.guestPage(ctx, g)
	if p != nil {
		p.Secret = secret
	}
	return p, err
}

// GuestByID reads the same for the shop's own people.
func (s *Store) GuestByID(ctx context.Context, id shop.GuestID) (*GuestPage, error) {
	g, err := take[shop.Guest](s.read(ctx), "The guest", "id = ?", id)
	if err != nil {
		return nil, err
	}
	return s.guestPage(ctx, g)
}

func (s *Store) guestPage(ctx context.Context, g *shop.Guest) (*GuestPage, error) {
	db := s.read(ctx)
	b, err := take[shop.Booking](db, "The booking", "id = ?", g.BookingID)
	if err != nil {
		return nil, err
	}
	seat, err := take[shop.Seat](db.Order("id DESC"), "The seat", "guest_id = ?", g.ID)
	if err != nil {
		return nil, err
	}
	c, err := take[shop.Class](db, "The class", "id = ?", seat.ClassID)
	if err != nil {
		return nil, err
	}
	k, err := take[shop.ClassKind](db, "The kind of class", "id = ?", c.KindID)
	if err != nil {
		return nil, err
	}
	p := &GuestPage{ID: g.ID, Name: g.Name, Email: g.Email, Age: g.Age, Wine: g.Wine, Remember: g.Remember, NeedsState: g.NeedsState,
		Kind: seat.Kind, Slabs: seat.Slabs, State: seat.State, Wear: k.Wear, Access: k.Access, InvitedBy: b.PayerName, PicksUntil: pickDeadline(c)}
	if p.Class, err = s.card(db, c, s.Now()); err != nil {
		return nil, err
	}
	needs, err := many[shop.Need](db, "id", "guest_id = ?", g.ID)
	if err != nil {
		return nil, err
	}
	for _, n := range needs {
		p.Needs = append(p.Needs, shop.NewNeed{Allergen: n.Allergen, Severe: n.Severe, Words: n.Words})
	}
	if p.Picks, err = s.picks(db, seat.ID); err != nil {
		return nil, err
	}
	if seat.Slabs == 0 {
		return p, nil
	}
	if until := s.MissedUntil(c.Day); seat.State == shop.Missed && s.Now() < until {
		var kept int64
		if err := db.Model(&shop.Slab{}).Where("seat_id = ? AND state IN ?", seat.ID, unsealed).Count(&kept).Error; err != nil {
			return nil, err
		}
		if kept > 0 {
			p.CureUntil = until
		}
	}
	p.Jars, err = s.jarChoices(db, c.ID)
	return p, err
}

// openGuest reads a guest, holds the class of their seat and returns the seat.
func (t tx) openGuest(id shop.GuestID) (*shop.Guest, *shop.Seat, *shop.Booking, *shop.Class, error) {
	g, err := take[shop.Guest](t.DB, "The guest", "id = ?", id)
	if err != nil {
		return nil, nil, nil, nil, err
	}
	b, c, err := t.openBooking(g.BookingID)
	if err != nil {
		return nil, nil, nil, nil, err
	}
	seats, err := many[shop.Seat](t.DB, "id DESC", "guest_id = ? AND state IN ?", id, waitingOrStanding)
	if err != nil {
		return nil, nil, nil, nil, err
	}
	if len(seats) == 0 {
		return nil, nil, nil, nil, shop.ErrMoved.Saying("This seat was let go.")
	}
	return g, &seats[0], b, c, nil
}

// SaveNeeds records what a person cannot eat (R12). A severe answer keeps jars with it
// from the table of the whole class (R13).
func (s *Store) SaveNeeds(ctx context.Context, by shop.Actor, id shop.GuestID, a shop.Answers) error {
	if err := a.Check(); err != nil {
		return err
	}
	if a.State == "" {
		a.State = shop.NotTold
	}
	return s.tx(ctx, func(t tx) error {
		g, _, _, c, err := t.openGuest(id)
		if err != nil {
			return err
		}
		return t.saveNeeds(by, g, c, a)
	})
}

func (t tx) saveNeeds(by shop.Actor, g *shop.Guest, c *shop.Class, a shop.Answers) error {
	if err := t.Exec("DELETE FROM needs WHERE guest_id = ?", g.ID).Error; err != nil {
		return err
	}
	for _, n := range a.Needs {
		if err := t.Create(&shop.Need{GuestID: g.ID, Allergen: n.Allergen, Severe: n.Severe, Words: trim(n.Words)}).Error; err != nil {
			return err
		}
	}
	res := t.Model(&shop.Guest{}).Where("id = ?", g.ID).Updates(map[string]any{"needs_state": a.State, "remember": a.Remember})
	if err := changed(res, shop.Missing("The guest")); err != nil {
		return err
	}
	// The trail says that it was answered, not what: that is nobody's business but the class's.
	if err := t.note(by, "guest", int64(g.ID), "answered about food", string(g.NeedsState), string(a.State), ""); err != nil {
		return err
	}
	return t.keepJarsAway(c)
}

// SaveGuest records all a person says on their own page, or nothing of it.
func (s *Store) SaveGuest(ctx context.Context, by shop.Actor, id shop.GuestID, in shop.GuestAnswers) error {
	in.Name = trim(in.Name)
	if err := in.Answers.Check(); err != nil {
		return err
	}
	return s.tx(ctx, func(t tx) error {
		g, seat, b, c, err := t.openGuest(id)
		if err != nil {
			return err
		}
		if in.Name != g.Name || in.Age != g.Age || in.Wine != g.Wine {
			if err := t.rename(by, g, seat, b, c, in.Name, g.Email, in.Age, in.Wine); err != nil {
				return err
			}
		}
		if in.Answers.State != "" {
			if err := t.saveNeeds(by, g, c, in.Answers); err != nil {
				return err
			}
		}
		for slot := 1; slot <= seat.Slabs; slot++ {
			if code, ok := in.Picks[slot]; ok {
				if err := t.savePick(by, seat, c, slot, code); err != nil {
					return err
				}
			}
		}
		return nil
	})
}

// SavePick records the spice for one slab of a guest; code "" leaves it open, "day" chooses at
// the table. Once the spice is on the meat the pick stands.
func (s *Store) SavePick(ctx context.Context, by shop.Actor, guest shop.GuestID, slot int, code string) error {
	return s.tx(ctx, func(t tx) error {
		_, seat, _, c, err := t.openGuest(guest)
		if err != nil {
			return err
		}
		return t.savePick(by, seat, c, slot, code)
	})
}

// unsealed slabs have no spice on the meat yet.
var unsealed = []shop.SlabState{shop.Wanted, shop.Cut, shop.Kitted}

func (t tx) savePick(by shop.Actor, seat *shop.Seat, c *shop.Class, slot int, code string) error {
	p, err := take[shop.Pick](t.DB, "The slab", "seat_id = ? AND slot = ?", seat.ID, slot)
	if err != nil {
		return err
	}
	missed := seat.State == shop.Missed && t.now < t.s.MissedUntil(c.Day)
	if !by.IsStaff() && t.now >= c.StartsAt && !missed {
		return shop.ErrMoved.Saying("The class has begun; tell the instructor instead.")
	}
	var on int64
	err = t.Model(&shop.Slab{}).Where("seat_id = ? AND slot = ? AND state NOT IN ?", seat.ID, slot,
		append([]shop.SlabState{shop.Dumped, shop.Replaced}, unsealed...)).Count(&on).Error
	if err != nil {
		return err
	}
	if on > 0 {
		return shop.ErrMoved.Saying("The spice is on the meat already.")
	}
	set := map[string]any{"jar_id": 0, "state": shop.PickOpen}
	switch code {
	case "":
	case shop.OnTheDayPick:
		set["state"] = shop.OnTheDay
	default:
		jars, err := t.jarsOnTable(c.ID)
		if err != nil {
			return err
		}
		jar, ok := jars[code]
		if !ok {
			return field(fmt.Sprintf("pick%d", slot), notOnTable)
		}
		set["jar_id"], set["state"] = jar.ID, shop.PickMade
	}
	if err := t.Model(&shop.Pick{}).Where("id = ?", p.ID).Updates(set).Error; err != nil {
		return err
	}
	if err := t.untellPick(p.ID); err != nil {
		return err
	}
	return t.note(by, "pick", int64(p.ID), "picked", string(p.State), fmt.Sprint(set["state"]), code)
}

// untellPick calls back "please choose again" once somebody has.
func (t tx) untellPick(id shop.PickID) error {
	return t.Model(&shop.Notice{}).Where("key LIKE ? AND state = ? AND leased_until <= ?", fmt.Sprintf("pick-reopened/%d/%%", id), shop.ToSend, t.now).
		Update("state", shop.Cancelled).Error
}

// RenameGuest gives a person of a party another name, age or address. It is free until
// the class starts (R4). A new address gets its own link; the old one stops working.
func (s *Store) RenameGuest(ctx context.Context, by shop.Actor, id shop.GuestID, name, email string, age int, wine bool) error {
	name, email = trim(name), trim(email)
	return s.tx(ctx, func(t tx) error {
		g, seat, b, c, err := t.openGuest(id)
		if err != nil {
			return err
		}
		if anotherPerson(g.Name, name) { // their food answers are their own
			if err := t.Exec("DELETE FROM needs WHERE guest_id = ?", g.ID).Error; err != nil {
				return err
			}
			err := t.Model(&shop.Guest{}).Where("id = ?", g.ID).Updates(map[string]any{"needs_state": shop.NotTold, "remember": false, "guardian_signed": false}).Error
			if err != nil {
				return err
			}
		}
		return t.rename(by, g, seat, b, c, name, email, age, wine)
	})
}

// anotherPerson says whether a new name is somebody else rather than the same name
// written longer or shorter. In doubt it is: being asked twice hurts nobody.
func anotherPerson(old, name string) bool {
	old, name = strings.ToLower(old), strings.ToLower(name)
	return old != "" && !strings.HasPrefix(old, name) && !strings.HasPrefix(name, strings.TrimSuffix(old, "."))
}

func (t tx) rename(by shop.Actor, g *shop.Guest, seat *shop.Seat, b *shop.Booking, c *shop.Class, name, email string, age int, wine bool) error {
	if t.now >= c.StartsAt && !by.IsStaff() {
		return shop.ErrMoved.Saying("The class has begun; names can be changed at the counter.")
	}
	k, err := t.kindOf(c)
	if err != nil {
		return err
	}
	if err := t.checkRename(b, seat, k, name, email, age); err != nil {
		return err
	}
	set := map[string]any{"name": name, "email": email, "age": age, "wine": wine}
	if email != g.Email && email != b.PayerEmail {
		g.LinkNo, g.TokenHash = t.s.newLink("guest")
		set["link_no"], set["token_hash"], set["payer"] = g.LinkNo, g.TokenHash, false
		if err := t.untell("guest", int64(g.ID)); err != nil {
			return err
		}
	}
	res := t.Model(&shop.Guest{}).Where("id = ?", g.ID).Updates(set)
	if err := changed(res, shop.Missing("The guest")); err != nil {
		return err
	}
	if err := t.note(by, "guest", int64(g.ID), "renamed", "", "", ""); err != nil {
		return err
	}
	if err := t.updateBooking(b, map[string]any{}); err != nil {
		return err
	}
	if b.State != shop.Firm {
		return nil
	}
	if err := t.tellGuests(b, c); err != nil {
		return err
	}
	if err := t.keepJarsAway(c); err != nil {
		return err
	}
	return t.remind(b, c)
}

// checkRename holds the party as it would be against the rules of the class.
func (t tx) checkRename(b *shop.Booking, seat *shop.Seat, k *shop.ClassKind, name, email string, age int) error {
	guests, err := t.guestsOf(b)
	if err != nil {
		return err
	}
	n := shop.NewBooking{Counter: true, PayerName: b.PayerName}
	at := 0
	for i, g := range guests {
		p := shop.NewPerson{Name: g.Name, Age: g.Age, Seat: g.Seat.Kind, Second: g.Seat.Slabs > 1}
		if g.Seat.ID == seat.ID {
			p.Name, p.Email, p.Age, at = name, email, age, i+1
		}
		n.People = append(n.People, p)
	}
	e, ok := shop.AsError(n.Check(*k))
	if !ok {
		return nil
	}
	var w shop.Wrong
	prefix := fmt.Sprintf("p%d_", at)
	for f, text := range e.Fields {
		if len(f) > len(prefix) && f[:len(prefix)] == prefix {
			w.Add(f[len(prefix):], "%s", text)
		} else if f == "people" {
			w.Add("age", "%s", text)
		}
	}
	return w.Err()
}

// SetCollector says who fetches the bacon, and whether it is sliced. Slicing is open until
// the slabs are smoked.
func (s *Store) SetCollector(ctx context.Context, by shop.Actor, id shop.BookingID, name, email string, sliced bool) error {
	name, email = trim(name), trim(email)
	check := shop.NewBooking{Counter: true, PayerName: "x", Collector: name, CollectorMail: email, People: []shop.NewPerson{{}}}
	if err := check.Check(shop.ClassKind{}); err != nil {
		return err
	}
	return s.tx(ctx, func(t tx) error {
		b, _, err := t.openBooking(id)
		if err != nil {
			return err
		}
		if sliced != b.Sliced {
			var smoked int64
			err := t.Model(&shop.Slab{}).Where("seat_id IN (SELECT id FROM seats WHERE booking_id = ?) AND state IN ?", id,
				[]shop.SlabState{shop.InSmoke, shop.Resting, shop.Packed, shop.OnShelf, shop.Collected, shop.InFreezer}).Count(&smoked).Error
			if err != nil {
				return err
			}
			if smoked > 0 {
				return field("sliced", "It is in the smoke or packed already; ask at the counter.")
			}
		}
		if err := t.updateBooking(b, map[string]any{"collector": name, "collector_mail": email, "sliced": sliced}); err != nil {
			return err
		}
		return t.note(by, "booking", int64(id), "collector", "", name, "")
	})
}

// nextPickEnd and endPicks turn spice choices still reopened two days before the class
// into "chosen on the day" (R13).
func nextPickEnd(ctx context.Context, s *Store) (unit.Instant, error) {
	at, err := s.earliest(ctx, `SELECT min(classes.starts_at) FROM picks JOIN seats ON seats.id = picks.seat_id JOIN classes ON classes.id = seats.class_id WHERE picks.state = ?`, shop.PickReopened)
	if err != nil || at == 0 {
		return 0, err
	}
	return at.Add(-48 * hour), nil
}

func endPicks(ctx context.Context, s *Store) error {
	return s.tx(ctx, func(t tx) error {
		return t.Exec(`UPDATE picks SET state = ? WHERE state = ? AND EXISTS
			(SELECT 1 FROM seats JOIN classes ON classes.id = seats.class_id WHERE seats.id = picks.seat_id AND classes.starts_at <= ?)`,
			shop.OnTheDay, shop.PickReopened, t.now.Add(48*time.Hour)).Error
	})
}
