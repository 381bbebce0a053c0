package store

import (
	"context"
	"fmt"
	"regexp"
	"strings"
	"time"

	"gorm.io/gorm/clause"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// tell leaves a notice for sending, in the transaction of the fact it tells. A key
// that is already there is left alone: one fact is told once. A zero DueAt means now;
// unless Urgent it is moved out of the quiet hours (R40).
func (t tx) tell(n shop.Notice, f shop.Facts) error {
	if n.ToAddr == "" {
		return nil // walk-ins without an address are told at the counter
	}
	if n.DueAt == 0 {
		n.DueAt = t.now
	}
	if !n.Urgent {
		n.DueAt = t.s.Rules.OutOfQuiet(n.DueAt, t.s.Loc)
	}
	n.State, n.CreatedAt, n.Facts = shop.ToSend, t.now, f.Pack()
	if err := t.Clauses(clause.OnConflict{Columns: []clause.Column{{Name: "key"}}, DoNothing: true}).Create(&n).Error; err != nil {
		return fmt.Errorf("leave notice %s: %w", n.Key, err)
	}
	t.onCommit(t.s.poke)
	return nil
}

// tellShop leaves a notice for the shop's own people: an alarm, a farm's answer, a
// decision that is due.
func (t tx) tellShop(n shop.Notice, f shop.Facts) error {
	n.ToName, n.ToAddr = t.s.Config.Shop, t.s.Config.Mail
	return t.tell(n, f)
}

func (s *Store) poke() {
	select {
	case s.wake <- struct{}{}:
	default:
	}
}

// untell cancels notices about a subject that have not left yet; no kinds means all.
// One that is being sent this moment cannot be called back.
func (t tx) untell(subject string, id int64, kinds ...string) error {
	q := t.Model(&shop.Notice{}).Where("subject = ? AND subject_id = ? AND state = ? AND leased_until <= ?", subject, id, shop.ToSend, t.now)
	if len(kinds) > 0 {
		q = q.Where("kind IN ?", kinds)
	}
	return q.Update("state", shop.Cancelled).Error
}

// untellKey cancels one notice that has not left yet.
func (t tx) untellKey(key string) error {
	return t.Model(&shop.Notice{}).Where("key = ? AND state = ? AND leased_until <= ?", key, shop.ToSend, t.now).Update("state", shop.Cancelled).Error
}

// leaseTime is how long one sender may work on a notice before another may try.
const leaseTime = 2 * time.Minute

// Deliver hands every notice that is due to send, once each, outside any transaction,
// and records what came of it. A failed one is tried again later (backoff). It returns
// how many were sent. Several instances may run it at once: rows are leased by
// conditional update. Sending is at least once; the Message-ID is derived from the
// notice's key, so a mail program shows it once.
func (s *Store) Deliver(ctx context.Context, send func(context.Context, shop.Notice, shop.Facts) error) (int, error) {
	sent := 0
	for {
		batch, err := s.lease(ctx, 20)
		if err != nil || len(batch) == 0 {
			return sent, err
		}
		for _, n := range batch {
			if err := ctx.Err(); err != nil {
				return sent, err // the rest of the batch is free again when its lease ends
			}
			f, err := n.Unpack()
			if err == nil {
				err = s.fillLinks(ctx, n, &f)
			}
			if err == nil {
				err = send(ctx, n, f)
			}
			// What was sent is recorded even when we are told to stop this moment:
			// otherwise it would be sent again.
			if rerr := s.delivered(context.WithoutCancel(ctx), n, err); rerr != nil {
				return sent, rerr
			}
			if err == nil {
				sent++
			} else {
				s.log.Warn("notice not sent", "kind", n.Kind, "id", n.ID, "attempt", n.Attempts, "error", unnamed(err.Error(), n))
			}
		}
	}
}

// anAddress is what looks like a mail address.
var anAddress = regexp.MustCompile(`[^\s<>"'(),:;]+@[^\s<>"'(),:;]+`)

// unnamed takes whoever a notice is for out of the words of why it did not go: mail servers
// like to repeat the address, or only what stands before its @. The notice itself keeps them.
func unnamed(text string, n shop.Notice) string {
	text = anAddress.ReplaceAllString(text, "(address)")
	before, _, _ := strings.Cut(n.ToAddr, "@")
	for _, w := range append([]string{before}, strings.Fields(n.ToName)...) {
		if w = strings.Trim(w, ".,"); w != "" {
			text = regexp.MustCompile(`(?i)(^|[^\pL\pN])`+regexp.QuoteMeta(w)+`($|[^\pL\pN])`).ReplaceAllString(text, "${1}(name)${2}")
		}
	}
	return text
}

func (s *Store) lease(ctx context.Context, most int) ([]shop.Notice, error) {
	var got []shop.Notice
	now := s.Now()
	due, err := many[shop.Notice](s.read(ctx).Limit(most), "due_at, id", "state = ? AND due_at <= ? AND leased_until <= ?", shop.ToSend, now, now)
	if err != nil || len(due) == 0 {
		return nil, err
	}
	err = s.tx(ctx, func(t tx) error {
		got = got[:0]
		for _, n := range due {
			res := t.Model(&shop.Notice{}).
				Where("id = ? AND state = ? AND leased_until <= ?", n.ID, shop.ToSend, t.now).
				Updates(map[string]any{"leased_until": t.now.Add(leaseTime), "attempts": n.Attempts + 1})
			if res.Error != nil {
				return res.Error
			}
			if res.RowsAffected == 1 {
				n.Attempts++
				got = append(got, n)
			}
		}
		return nil
	})
	return got, err
}

func (s *Store) delivered(ctx context.Context, n shop.Notice, sendErr error) error {
	return s.tx(ctx, func(t tx) error {
		set := map[string]any{"state": shop.Sent, "sent_at": t.now, "leased_until": 0, "last_error": ""}
		if sendErr != nil {
			set = map[string]any{"leased_until": 0, "due_at": Backoff(n.Attempts, t.now), "last_error": sendErr.Error()}
		}
		return t.Model(&shop.Notice{}).Where("id = ? AND state = ?", n.ID, shop.ToSend).Updates(set).Error
	})
}

// Backoff is when a notice is tried again after so many attempts: 1, 2, 4 … minutes,
// at most six hours. A notice is never given up; the owner sees those that linger.
func Backoff(attempts int, now unit.Instant) unit.Instant {
	d := time.Minute
	for i := 1; i < attempts && d < 6*time.Hour; i++ {
		d *= 2
	}
	return now.Add(min(d, 6*time.Hour))
}

// fillLinks adds the secret addresses a notice carries. They are derived anew each
// time and never stored.
func (s *Store) fillLinks(ctx context.Context, n shop.Notice, f *shop.Facts) error {
	f.Links.Season = s.Config.BaseURL + "/"
	if f.ClassCode != "" {
		f.Links.Class = s.Config.BaseURL + "/classes/" + f.ClassCode
	}
	db := s.read(ctx)
	switch n.Subject {
	case "booking":
		b, err := take[shop.Booking](db, "The booking", "id = ?", n.SubjectID)
		if err != nil {
			return err
		}
		f.Links.Booking, f.Links.Slab = s.BookingLink(b), s.SlabLink(b)
	case "guest":
		g, err := take[shop.Guest](db, "The guest", "id = ?", n.SubjectID)
		if err != nil {
			return err
		}
		b, err := take[shop.Booking](db, "The booking", "id = ?", g.BookingID)
		if err != nil {
			return err
		}
		f.Links.Guest, f.Links.Slab = s.Link("guest", g.LinkNo), s.SlabLink(b)
	case "order":
		o, err := take[shop.Order](db, "The order", "id = ?", n.SubjectID)
		if err != nil {
			return err
		}
		f.Links.Order = s.Link("order", o.LinkNo)
	case "voucher":
		f.Code = s.VoucherCode(shop.VoucherID(n.SubjectID))
	case "credit":
		f.Code = s.CreditCode(shop.CreditID(n.SubjectID))
	}
	return nil
}

// VoucherCode is the code printed on a voucher, derived like a link's secret.
func (s *Store) VoucherCode(id shop.VoucherID) string {
	c := s.secretFor("voucher", int(id))
	return c[0:4] + "-" + c[4:8] + "-" + c[8:12] + "-" + c[12:16]
}
