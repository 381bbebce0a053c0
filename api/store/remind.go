package store

import (
	"fmt"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// A reader is one address a booking's messages go to, and whose seats it speaks for.
type reader struct {
	guest *shop.Guest // nil: the payer
	slabs int
}

// readers lists who is written to before a class: guests with an address of their own,
// and the payer for everybody else. One person, one message.
func (t tx) readers(b *shop.Booking) ([]reader, error) {
	guests, err := t.guestsOf(b)
	if err != nil {
		return nil, err
	}
	var payer *reader
	var out []reader
	seen := map[string]int{}
	for _, g := range guests {
		if g.Seat.State == shop.Missed {
			g.Seat.Slabs = 0 // "thank you for coming" is not for them, nor their slab in cure yet
		}
		if g.Payer || g.Email == "" || g.Email == b.PayerEmail {
			if payer == nil {
				payer = &reader{}
			}
			payer.slabs += g.Seat.Slabs
			continue
		}
		if i, ok := seen[g.Email]; ok {
			out[i].slabs += g.Seat.Slabs
			continue
		}
		seen[g.Email] = len(out)
		out = append(out, reader{guest: &g.Guest, slabs: g.Seat.Slabs})
	}
	if payer != nil {
		out = append([]reader{*payer}, out...)
	}
	return out, nil
}

var reminders = []string{shop.NoticeClassSoon, shop.NoticeClassEvening, shop.NoticeBalanceDue}

// remind dates a booking's reminders anew from how it stands: those still ahead are
// cancelled and written again. A reminder whose moment has passed is never written.
func (t tx) remind(b *shop.Booking, c *shop.Class) error {
	if err := t.cancelAhead(b); err != nil {
		return err
	}
	if b.State != shop.Firm && b.State != shop.Came {
		return nil
	}
	readers, err := t.readers(b)
	if err != nil {
		return err
	}
	f, err := t.facts(b, c)
	if err != nil {
		return err
	}
	plain, err := t.guestFacts(b, c)
	if err != nil {
		return err
	}
	r := t.s.Rules
	ready, err := t.readyOf(b, c)
	if err != nil {
		return err
	}
	k, err := t.kindOf(c)
	if err != nil {
		return err
	}
	for _, rd := range readers {
		facts := f
		if rd.guest != nil {
			facts = plain
		}
		facts.Asked = k.Questions()
		for _, days := range r.SoonDays {
			at := (c.Day - unit.Day(days)).At(r.MorningHour, 0, t.s.Loc)
			if err := t.ahead(b, rd, shop.NoticeClassSoon, fmt.Sprint(days), at, facts); err != nil {
				return err
			}
		}
		if rd.slabs > 0 {
			e := plain
			e.ReadyOn = ready
			if err := t.ahead(b, rd, shop.NoticeClassEvening, "", max(c.Day.At(18, 0, t.s.Loc), c.EndsAt), e); err != nil {
				return err
			}
		}
	}
	if b.BalanceDueOn != 0 && b.Owes() > 0 {
		return t.ahead(b, reader{}, shop.NoticeBalanceDue, "", (b.BalanceDueOn-balanceNotice).At(r.MorningHour, 0, t.s.Loc), f)
	}
	return nil
}

// balanceNotice is how many days before the rest is due its reminder goes.
const balanceNotice = 3

// ahead writes one reminder for later. Its key carries the booking's revision: a
// reminder re-dated after a change is a new message, one already sent is not.
func (t tx) ahead(b *shop.Booking, rd reader, kind, which string, at unit.Instant, f shop.Facts) error {
	if at <= t.now {
		return nil
	}
	who := "payer"
	n := t.toPayer(b, kind, "")
	if rd.guest != nil {
		who = fmt.Sprint("guest ", rd.guest.ID)
		n = t.toGuest(b, rd.guest, kind, "")
	}
	n.Key = fmt.Sprintf("%s/%d/%s/%s/r%d", kind, b.ID, which, who, b.Revision)
	n.DueAt = at
	return t.tell(n, f)
}

// cancelAhead cancels the reminders of a booking and its guests that lie ahead. One that
// is due this moment is left to go.
func (t tx) cancelAhead(b *shop.Booking) error {
	return t.Model(&shop.Notice{}).Where(`state = ? AND due_at > ? AND kind IN ? AND
		(subject = 'booking' AND subject_id = ? OR subject = 'guest' AND subject_id IN (SELECT id FROM guests WHERE booking_id = ?))`,
		shop.ToSend, t.now, reminders, b.ID, b.ID).Update("state", shop.Cancelled).Error
}

// untellBooking cancels every message about a booking and its guests that has not left.
func (t tx) untellBooking(b *shop.Booking) error {
	if err := t.untell("booking", int64(b.ID)); err != nil {
		return err
	}
	guests, err := many[shop.Guest](t.DB, "id", "booking_id = ?", b.ID)
	if err != nil {
		return err
	}
	for _, g := range guests {
		if err := t.untell("guest", int64(g.ID)); err != nil {
			return err
		}
	}
	return nil
}

// readyOf is when a booking's slabs are ready about, or none when it has none.
func (t tx) readyOf(b *shop.Booking, c *shop.Class) (unit.Day, error) {
	seats, err := t.standing(b, shop.Held, shop.Firm, shop.Came, shop.Missed)
	if err != nil {
		return 0, err
	}
	for _, s := range seats {
		if s.Slabs > 0 {
			return t.s.readyAbout(t.DB, c.Day)
		}
	}
	return 0, nil
}
