package store

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"unicode"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// Handing is one hand-over at the counter: to whom, and every packet scanned. The two
// together are the check that the right packet goes to the right hand.
type Handing struct {
	Booking shop.BookingID
	To      string   // the name the person gave
	Tags    []string // scanned off the packets
	Reason  string   // when somebody nobody has named may have them all the same
	DoneAt  unit.Instant
	Once    string
}

// Collect hands a party's packets out: on the shelf, or in the freezer, to collected.
// The name must be one the party gave, every packet of theirs that lies ready must be
// scanned, and none that is not theirs. Reminders that have not left are called off.
func (s *Store) Collect(ctx context.Context, by shop.Actor, h Handing) error {
	return s.bench(ctx, func(t tx) error {
		if err := t.lock("bookings", int64(h.Booking)); err != nil {
			return err
		}
		b, err := take[shop.Booking](t.DB, "The booking", "id = ?", h.Booking)
		if err != nil {
			return err
		}
		slabs, err := t.partySlabs(b.ID)
		if err != nil {
			return err
		}
		tags, err := t.scanned(b, slabs, h.Tags)
		if err != nil {
			return err
		}
		if seen, err := t.handedBefore(by, h, slabs, tags); seen || err != nil {
			return err
		}
		if err := t.mayFetch(b, h); err != nil {
			return err
		}
		// All are looked at before the first is moved: a refusal hands out nothing.
		for i := range slabs {
			if slices.Contains(tags, slabs[i].Tag) {
				if _, err := t.mayStep(&slabs[i], h.move(by, slabs[i].Tag)); err != nil {
					return err
				}
			}
		}
		if err := t.stillGood(slabs, tags, h); err != nil {
			return err
		}
		left := 0
		for i := range slabs {
			sl := &slabs[i]
			in := slices.Contains(tags, sl.Tag)
			ready := sl.State == shop.OnShelf || sl.State == shop.InFreezer
			switch {
			case ready && !in:
				p, err := placeOf(t.DB, sl.ID)
				if err != nil {
					return err
				}
				where := ""
				if p != nil {
					where = " at " + p.Code
				}
				return shop.Stop("scan_all", "%s%s is %s's too. Scan every packet before handing over.", sl.Tag, where, b.PayerName)
			case !ready && sl.State != shop.Collected && !in:
				left++
			}
		}
		for i := range slabs {
			sl := &slabs[i]
			if !slices.Contains(tags, sl.Tag) {
				continue
			}
			moved, err := t.moveSlab(sl, h.move(by, sl.Tag))
			if err != nil {
				return err
			}
			if !moved {
				continue
			}
			if err := t.freePlace(sl.ID); err != nil {
				return err
			}
		}
		return t.fetched(by, b, tags, left, h)
	})
}

// stillGood stops a packet whose day has passed. Out of the freezer a person may hand it
// out all the same, saying why: frozen, it is quality and not safety that has run out.
func (t tx) stillGood(slabs []shop.Slab, tags []string, h Handing) error {
	day := h.at(t.now).Day(t.s.Loc)
	for _, sl := range slabs {
		if !slices.Contains(tags, sl.Tag) || sl.UseBy == 0 || day <= sl.UseBy {
			continue
		}
		switch {
		case sl.State == shop.OnShelf:
			return shop.Stop("past_use_by", "%s was to be used or frozen by %s. Do not hand it out; put it on hold and ask the owner.", sl.Tag, sl.UseBy.Show())
		case sl.State == shop.InFreezer && trim(h.Reason) == "":
			return shop.Bad("reason", "%s was best before %s. If it is handed out all the same, write down why.", sl.Tag, sl.UseBy.Show())
		}
	}
	return nil
}

func (t tx) fetched(by shop.Actor, b *shop.Booking, tags []string, left int, h Handing) error {
	if err := t.stopChasing(b.ID); err != nil {
		return err
	}
	if err := t.note(by, "booking", int64(b.ID), "collected", "", "", strings.Join(tags, ", ")+" to "+trim(h.To)); err != nil {
		return err
	}
	if left > 0 {
		return nil // thanks come with the last
	}
	n := t.toCollector(b, shop.NoticeCollected, fmt.Sprintf("collected/%d", b.ID))
	f := shop.Facts{Ref: b.Ref(), Tags: tags}
	if err := t.tell(n, f); err != nil {
		return err
	}
	return t.askAfter(b, h.at(t.now))
}

func (h Handing) move(by shop.Actor, tag string) move {
	return move{by: by, to: shop.Collected, scan: Scan{Tag: tag, DoneAt: h.DoneAt, Once: h.Once}, reading: "to " + trim(h.To), reason: trim(h.Reason)}
}

func (h Handing) at(now unit.Instant) unit.Instant { return Scan{DoneAt: h.DoneAt}.at(now) }

// scanned sorts the tags and refuses one that is not the party's.
func (t tx) scanned(b *shop.Booking, slabs []shop.Slab, tags []string) ([]string, error) {
	var out []string
	for _, tag := range tags {
		tag = ScannedTag(tag)
		if tag == "" {
			continue
		}
		i := slices.IndexFunc(slabs, func(sl shop.Slab) bool { return sl.Tag == tag })
		if i < 0 {
			if _, err := t.slabByTag(tag); err != nil {
				return nil, err
			}
			return nil, shop.Stop("not_theirs", "%s is not %s's (%s). Put it back and look for the right tag.", tag, b.PayerName, b.Ref())
		}
		if !slices.Contains(out, tag) {
			out = append(out, tag)
		}
	}
	if len(out) == 0 {
		return nil, shop.Bad("tags", "Scan the tag of every packet.")
	}
	return out, nil
}

// handedBefore says whether this very hand-over was counted before, by the same press
// or by the same device within five minutes.
func (t tx) handedBefore(by shop.Actor, h Handing, slabs []shop.Slab, tags []string) (bool, error) {
	for i := range slabs {
		if !slices.Contains(tags, slabs[i].Tag) {
			continue
		}
		seen, err := t.stepSeen(&slabs[i], h.move(by, slabs[i].Tag))
		if err != nil || !seen {
			return false, err
		}
	}
	return true, nil
}

// mayFetch holds the name given at the counter against those the party gave.
func (t tx) mayFetch(b *shop.Booking, h Handing) error {
	to := plainName(h.To)
	if to == "" {
		return shop.Bad("to", "Ask for the name and write it down.")
	}
	named := []string{b.PayerName, b.Collector}
	var guests []string
	if err := t.Model(&shop.Guest{}).Where("booking_id = ?", b.ID).Order("id").Pluck("name", &guests).Error; err != nil {
		return err
	}
	for _, n := range append(named, guests...) {
		if n = plainName(n); n != "" && (n == to || strings.HasPrefix(n, to+" ") || strings.HasPrefix(to, n+" ")) {
			return nil
		}
	}
	if trim(h.Reason) == "" {
		who := "no one else is named"
		if b.Collector != "" {
			who = b.Collector + " is named to fetch"
		}
		return shop.Bad("to", "%s paid; %s. If %s may have it all the same, write down why.", b.PayerName, who, trim(h.To))
	}
	return nil
}

// plainName is a name without case, points and double spaces, for comparing.
func plainName(s string) string {
	s = strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsSpace(r) || r == '-' || r == '\'' {
			return unicode.ToLower(r)
		}
		return -1
	}, s)
	return strings.Join(strings.Fields(s), " ")
}

// ToFreezer moves an uncollected packet from the shelf to the freezer (R38).
func (s *Store) ToFreezer(ctx context.Context, by shop.Actor, sc Scan, place string) error {
	return s.onSlab(ctx, by, sc, shop.InFreezer, func(t tx, sl *shop.Slab) error {
		if err := needState(sl, "freezing", shop.OnShelf); err != nil {
			return err
		}
		p, err := t.shelfPlace(place, "place", shop.Freezer)
		if err != nil {
			return err
		}
		day := sc.at(t.now).Day(t.s.Loc)
		if sl.UseBy != 0 && day > sl.UseBy {
			return shop.Stop("past_use_by", "%s was to be used or frozen by %s: it is not frozen now. Put it on hold; the owner decides.", sl.Tag, sl.UseBy.Show())
		}
		until := day.AddMonths(s.Rules.FrozenFor)
		moved, err := t.moveSlab(sl, move{by: by, scan: sc, to: shop.InFreezer, reading: fmt.Sprintf("place %s, frozen %s, use by %s", p.Code, day, until), set: map[string]any{"use_by": until}})
		if err != nil || !moved {
			return err
		}
		return t.place(sl, p)
	})
}

// GiveUp marks a packet nobody has fetched as given up. Only the owner may, and says why.
func (s *Store) GiveUp(ctx context.Context, by shop.Actor, sc Scan) error {
	if !by.May(shop.Owner) {
		return shop.ErrNotAllowed
	}
	if trim(sc.Reason) == "" {
		return shop.Bad("reason", "Say why the packet is given up.")
	}
	return s.onSlab(ctx, by, sc, shop.GivenUp, func(t tx, sl *shop.Slab) error {
		if err := needState(sl, "giving it up", shop.OnShelf, shop.InFreezer); err != nil {
			return err
		}
		moved, err := t.moveSlab(sl, move{by: by, scan: sc, to: shop.GivenUp})
		if err != nil || !moved {
			return err
		}
		if err := t.freePlace(sl.ID); err != nil {
			return err
		}
		b, err := t.partyOf(sl)
		if err != nil || b == nil {
			return err
		}
		slabs, err := t.partySlabs(b.ID)
		if err != nil {
			return err
		}
		for _, x := range slabs {
			if x.State == shop.OnShelf || x.State == shop.InFreezer {
				return nil
			}
		}
		return t.stopChasing(b.ID)
	})
}
