package store

import (
	"context"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// queueRefund leaves money on its way back through the provider, in the transaction of the
// give-back: from the booking's own online payments, the last paid first (R8).
func (t tx) queueRefund(p shop.Payment) error {
	where, arg := "booking_id = ? AND state = ?", any(p.BookingID)
	if p.BookingID == 0 { // a present's money: it goes back where it came from
		id, err := strconv.ParseInt(strings.TrimSuffix(strings.TrimPrefix(p.Key, "checkout/"), "/back"), 10, 64)
		if err != nil {
			return fmt.Errorf("refund: payment %s is of no checkout", p.Key)
		}
		where, arg = "id = ? AND state = ?", id
	}
	paid, err := many[shop.Checkout](t.DB, "paid_at DESC, id DESC", where, arg, shop.CheckoutPaid)
	if err != nil {
		return err
	}
	rest, n := -p.Cents, 0
	for _, k := range paid {
		var back unit.Money
		if err := t.Raw("SELECT coalesce(sum(cents), 0) FROM refunds WHERE checkout_id = ?", k.ID).Scan(&back).Error; err != nil {
			return err
		}
		part := min(k.Cents-back, rest)
		if part <= 0 {
			continue
		}
		n++
		rest -= part
		r := shop.Refund{Key: fmt.Sprintf("refund/%s/%d", p.Key, n), CheckoutID: k.ID, BookingID: p.BookingID, Cents: part, State: shop.RefundWaiting, DueAt: t.now, CreatedAt: t.now}
		if err := t.Create(&r).Error; err != nil {
			return err
		}
	}
	if rest > 0 {
		return fmt.Errorf("refund: %s of payment %s did not come in online", rest, p.Key)
	}
	t.onCommit(t.s.poke)
	return nil
}

// A RefundResult is what the provider says of a refund.
type RefundResult struct {
	Ref   string
	State shop.RefundState // sent, done or failed
	Why   string           // of a failed one
}

// A Refunder hands a refund to the provider: money back from the payment it names. For one
// the provider has already (its Ref is set) it asks what became of it.
type Refunder func(ctx context.Context, r shop.Refund, paymentRef string) (RefundResult, error)

// ErrRefundRefused is a provider's no that asking again will not change.
var ErrRefundRefused = errors.New("the provider refuses the refund")

// askRefund is how long the provider may have a refund before it is asked what became of it.
const askRefund = 24 * time.Hour

// SendRefunds hands every refund that is due to the provider, each leased like a notice and
// outside any transaction. Ordered twice under one key it is given back once; a failed try
// is tried again later; a no is left to the owner. It returns how many were handed over.
func (s *Store) SendRefunds(ctx context.Context, send Refunder) (int, error) {
	handed := 0
	for {
		r, paymentRef, err := s.leaseRefund(ctx)
		if err != nil || r == nil {
			return handed, err
		}
		got, err := send(ctx, *r, paymentRef)
		if ctx.Err() != nil && err != nil {
			return handed, ctx.Err() // free again when its lease ends
		}
		if err := s.refundAnswered(context.WithoutCancel(ctx), *r, got, err); err != nil {
			return handed, err
		}
		if err == nil {
			handed++
		}
	}
}

func (s *Store) leaseRefund(ctx context.Context) (*shop.Refund, string, error) {
	now := s.Now()
	due, err := many[shop.Refund](s.read(ctx).Limit(1), "due_at, id", "state IN ? AND due_at <= ? AND leased_until <= ?", []shop.RefundState{shop.RefundWaiting, shop.RefundSent}, now, now)
	if err != nil || len(due) == 0 {
		return nil, "", err
	}
	r := due[0]
	k, err := take[shop.Checkout](s.read(ctx), "The checkout", "id = ?", r.CheckoutID)
	if err != nil {
		return nil, "", err
	}
	err = s.tx(ctx, func(t tx) error {
		res := t.Model(&shop.Refund{}).Where("id = ? AND state = ? AND leased_until <= ? AND due_at = ?", r.ID, r.State, t.now, r.DueAt).
			Updates(map[string]any{"leased_until": t.now.Add(leaseTime), "attempts": r.Attempts + 1})
		return changed(res, shop.ErrStale)
	})
	if errors.Is(err, shop.ErrStale) {
		return nil, "", nil // a colleague was faster; the rest is looked at next time
	}
	r.Attempts++
	return &r, k.PaymentRef, err
}

func (s *Store) refundAnswered(ctx context.Context, r shop.Refund, got RefundResult, sendErr error) error {
	return s.tx(ctx, func(t tx) error {
		switch {
		case errors.Is(sendErr, ErrRefundRefused):
			return t.refundIs(r.ID, RefundResult{Ref: r.Ref, State: shop.RefundFailed, Why: sendErr.Error()})
		case sendErr != nil:
			s.log.Warn("refund not handed over", "id", r.ID, "attempt", r.Attempts, "error", sendErr.Error())
			return t.Model(&shop.Refund{}).Where("id = ? AND state = ?", r.ID, r.State).
				Updates(map[string]any{"leased_until": 0, "due_at": Backoff(r.Attempts, t.now), "last_error": sendErr.Error()}).Error
		}
		return t.refundIs(r.ID, got)
	})
}

// RefundTold counts what the provider tells of a refund by itself. Of one that is not ours
// (given back on the provider's own pages) it reports false: there is nothing to count.
func (s *Store) RefundTold(ctx context.Context, key string, got RefundResult) (ours bool, err error) {
	err = s.tx(ctx, func(t tx) error {
		rows, err := many[shop.Refund](t.DB, "id", "key = ?", key)
		if err != nil || len(rows) == 0 {
			return err
		}
		ours = true
		return t.refundIs(rows[0].ID, got)
	})
	return ours, err
}

// refundIs moves a refund on. One that has ended stays as it is, but for one the provider
// called done and takes back: banks do.
func (t tx) refundIs(id shop.RefundID, got RefundResult) error {
	from := []shop.RefundState{shop.RefundWaiting, shop.RefundSent}
	set := map[string]any{"state": got.State, "ref": got.Ref, "leased_until": 0, "last_error": got.Why}
	switch got.State {
	case shop.RefundSent:
		set["due_at"] = t.now.Add(askRefund)
	case shop.RefundDone:
		set["ended_at"] = t.now
	case shop.RefundFailed:
		set["ended_at"], from = t.now, append(from, shop.RefundDone)
	default:
		return fmt.Errorf("refund %d: the provider says %q", id, got.State)
	}
	res := t.Model(&shop.Refund{}).Where("id = ? AND state IN ?", id, from).Updates(set)
	if res.Error != nil || res.RowsAffected == 0 || got.State != shop.RefundFailed {
		return res.Error
	}
	r, err := take[shop.Refund](t.DB, "The refund", "id = ?", id)
	if err != nil {
		return err
	}
	who := "a voucher's buyer"
	if r.BookingID != 0 {
		b, err := take[shop.Booking](t.DB, "The booking", "id = ?", r.BookingID)
		if err != nil {
			return err
		}
		who = b.Ref() // no name: the message outlives an erasing in somebody's mailbox
	}
	if err := t.note(shop.Itself(), "refund", int64(id), "failed", "", string(shop.RefundFailed), got.Why); err != nil {
		return err
	}
	return t.tellShop(shop.Notice{Key: fmt.Sprintf("refund-failed/%d/%d", id, r.Attempts), Kind: shop.NoticeOwnerTask, Subject: "refund", SubjectID: int64(id), Urgent: true},
		shop.Facts{Reason: fmt.Sprintf("%s for %s could not go back the way it came: %s", r.Cents, who, got.Why),
			Lines: []string{"Try again, or give it back another way and say so: " + t.s.Config.BaseURL + "/owner/ledger"}})
}

// RefundView is a refund with who it is for.
type RefundView struct {
	shop.Refund
	For    string
	Number int // of the booking, 0 for a voucher's
}

// Refunds lists those that have not ended well, the oldest first: on their way, or failed.
func (s *Store) Refunds(ctx context.Context) ([]RefundView, error) {
	db := s.read(ctx)
	rows, err := many[shop.Refund](db, "id", "state IN ?", []shop.RefundState{shop.RefundWaiting, shop.RefundSent, shop.RefundFailed})
	if err != nil {
		return nil, err
	}
	out := make([]RefundView, 0, len(rows))
	for _, r := range rows {
		v := RefundView{Refund: r, For: "a voucher"}
		if r.BookingID != 0 {
			b, err := take[shop.Booking](db, "The booking", "id = ?", r.BookingID)
			if err != nil {
				return nil, err
			}
			v.For, v.Number = b.Ref()+" "+b.PayerName, b.Number
		}
		out = append(out, v)
	}
	return out, nil
}

// RetryRefund orders a failed refund anew. The provider sees another key: the old one is
// answered with the old no.
func (s *Store) RetryRefund(ctx context.Context, by shop.Actor, id shop.RefundID) error {
	return s.tx(ctx, func(t tx) error {
		r, err := take[shop.Refund](t.DB, "The refund", "id = ?", id)
		if err != nil {
			return err
		}
		res := t.Model(&shop.Refund{}).Where("id = ? AND state = ?", id, shop.RefundFailed).
			Updates(map[string]any{"state": shop.RefundWaiting, "key": fmt.Sprintf("%s+%d", strings.Split(r.Key, "+")[0], r.Attempts), "ref": "", "due_at": t.now, "ended_at": 0, "last_error": ""})
		if err := changed(res, shop.ErrMoved.Saying("This refund has not failed, or somebody else has settled it.")); err != nil {
			return err
		}
		t.onCommit(t.s.poke)
		return t.note(by, "refund", int64(id), "tried again", string(shop.RefundFailed), string(shop.RefundWaiting), "")
	})
}

// RefundOtherWay notes that a failed refund was given back at the counter: the money stays
// with the provider's, and leaves the drawer, the card machine or the bank instead.
func (s *Store) RefundOtherWay(ctx context.Context, by shop.Actor, id shop.RefundID, method, note string) error {
	if method != "cash" && method != "card" && method != "transfer" {
		return field("method", "Choose how it went back: cash, card or transfer.")
	}
	return s.tx(ctx, func(t tx) error {
		r, err := take[shop.Refund](t.DB, "The refund", "id = ?", id)
		if err != nil {
			return err
		}
		res := t.Model(&shop.Refund{}).Where("id = ? AND state = ?", id, shop.RefundFailed).Updates(map[string]any{"state": shop.RefundOtherWay, "ended_at": t.now})
		if err := changed(res, shop.ErrMoved.Saying("This refund has not failed, or somebody else has settled it.")); err != nil {
			return err
		}
		p := shop.Payment{BookingID: r.BookingID, Cents: r.Cents, Method: "online", Key: fmt.Sprintf("refund %d/stays", id), Note: "the refund did not go through", At: t.now, Actor: by.Name}
		if err := t.pays(p); err != nil {
			return err
		}
		p.Cents, p.Method, p.Key, p.Note = -r.Cents, method, fmt.Sprintf("refund %d/given", id), "given back another way"
		if note = trim(note); note != "" {
			p.Note += ": " + note
		}
		if err := t.pays(p); err != nil {
			return err
		}
		return t.note(by, "refund", int64(id), "given another way", string(shop.RefundFailed), string(shop.RefundOtherWay), method)
	})
}
