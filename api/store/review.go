package store

import (
	"context"
	"fmt"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// askAfter asks two questions a week after a party has all its bacon: each guest who has
// an address of their own and whoever speaks for the others, once. Nobody is asked whose
// slab, or whose friend's slab they answer for, was dumped.
func (t tx) askAfter(b *shop.Booking, fetched unit.Instant) error {
	guests, err := t.guestsOf(b)
	if err != nil {
		return err
	}
	c, err := take[shop.Class](t.DB, "The class", "id = ?", b.ClassID)
	if err != nil {
		return err
	}
	var lost []shop.SeatID
	err = t.Model(&shop.Slab{}).Where("seat_id IN (SELECT id FROM seats WHERE booking_id = ?) AND state IN ?", b.ID, []shop.SlabState{shop.Dumped, shop.Replaced}).Pluck("seat_id", &lost).Error
	if err != nil {
		return err
	}
	dumped := map[shop.SeatID]bool{}
	for _, id := range lost {
		dumped[id] = true
	}
	type asked struct {
		guest *shop.Guest
		slabs int
		never bool
	}
	byMail := map[string]*asked{}
	var order []string
	for i := range guests {
		g := &guests[i]
		mail := g.Email
		if mail == "" || g.Payer {
			mail = b.PayerEmail
		}
		a := byMail[mail]
		if a == nil {
			a = &asked{guest: &g.Guest}
			byMail[mail], order = a, append(order, mail)
		}
		if g.Payer {
			a.guest = &g.Guest
		}
		a.slabs += g.Seat.Slabs
		a.never = a.never || dumped[g.Seat.ID]
	}
	for _, mail := range order {
		a := byMail[mail]
		if a.slabs == 0 || a.never || mail == "" {
			continue
		}
		n := shop.Notice{Key: fmt.Sprintf("afterward/%d/%d", b.ID, a.guest.ID), Kind: shop.NoticeAfter, ToName: a.guest.Name, ToAddr: mail,
			Subject: "guest", SubjectID: int64(a.guest.ID), DueAt: (fetched.Day(t.s.Loc) + 7).At(t.s.Rules.MorningHour, 0, t.s.Loc)}
		if n.ToName == "" {
			n.ToName = b.PayerName
		}
		if err := t.tell(n, shop.Facts{Ref: b.Ref(), Class: c.Title}); err != nil {
			return err
		}
	}
	return nil
}

// Review reads what the holder of a guest's link has answered; nil: nothing yet.
func (s *Store) Review(ctx context.Context, guest shop.GuestID) (*shop.Review, error) {
	rows, err := many[shop.Review](s.read(ctx), "id", "guest_id = ?", guest)
	if err != nil || len(rows) == 0 {
		return nil, err
	}
	return &rows[0], nil
}

// SaveReview keeps the answers to the two questions; a second answer takes the place of
// the first. It is open once a slab of the person's is fetched.
func (s *Store) SaveReview(ctx context.Context, by shop.Actor, r shop.Review) error {
	r.ClassWords, r.BaconWords = trim(r.ClassWords), trim(r.BaconWords)
	if err := r.Check(); err != nil {
		return err
	}
	return s.tx(ctx, func(t tx) error {
		if err := t.lock("guests", int64(r.GuestID)); err != nil {
			return err
		}
		may, err := s.mayReview(t, r.GuestID)
		if err != nil {
			return err
		}
		if !may {
			return shop.Stop("not_yet", "We ask once you have your bacon.")
		}
		if err := t.Exec("DELETE FROM reviews WHERE guest_id = ?", r.GuestID).Error; err != nil {
			return err
		}
		r.ID, r.At = 0, t.now
		if err := t.Create(&r).Error; err != nil {
			return err
		}
		return t.note(by, "guest", int64(r.GuestID), "answered the two questions", "", "", "")
	})
}

func (s *Store) mayReview(t tx, guest shop.GuestID) (bool, error) {
	var n int64
	err := t.Raw(`SELECT count(*) FROM slabs JOIN seats ON seats.id = slabs.seat_id JOIN guests ON guests.booking_id = seats.booking_id
		WHERE guests.id = ? AND slabs.state = ?`, guest, shop.Collected).Scan(&n).Error
	return n > 0, err
}

// A Said is what somebody answered, without their name.
type Said struct {
	Class                                        string
	ClassMark, ClassWords, BaconMark, BaconWords string
}

// Reviews lists what was answered about the classes of some days, the newest first.
func (s *Store) Reviews(ctx context.Context, from, to unit.Day) ([]Said, error) {
	var out []Said
	err := s.read(ctx).Raw(`SELECT classes.code AS class, reviews.class_mark, reviews.class_words, reviews.bacon_mark, reviews.bacon_words
		FROM reviews JOIN seats ON seats.guest_id = reviews.guest_id JOIN classes ON classes.id = seats.class_id
		WHERE classes.day BETWEEN ? AND ? AND seats.state IN (?, ?, ?) ORDER BY reviews.at DESC, reviews.id DESC`, from, to, shop.Firm, shop.Came, shop.Missed).Scan(&out).Error
	return out, err
}
