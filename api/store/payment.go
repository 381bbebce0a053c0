package store

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"time"

	"flitchbook/api/shop"
	"flitchbook/planner/money"
	"flitchbook/planner/unit"
)

// A Paid says what became of a payment.
type Paid struct {
	Booking  *BookingView
	Returned unit.Money // given straight back: the seats were gone, or it was too much
	Again    bool       // the same notice had counted before
	Waiting  *BookingView
}

// Pay takes a payment for a booking: held seats become firm with the deposit or the whole
// sum, later payments bring in the rest. The same key counts once. Money that comes after
// its seats were let go is returned in full at once and the party goes to the head of the
// waiting list (R3).
func (s *Store) Pay(ctx context.Context, by shop.Actor, id shop.BookingID, in shop.PaymentIn) (*Paid, error) {
	if err := in.Check(by); err != nil {
		return nil, err
	}
	var out Paid
	var waiting shop.BookingID
	err := s.tx(ctx, func(t tx) (err error) {
		out, waiting, err = t.payOnce(by, id, in)
		return err
	})
	if err != nil {
		return nil, err
	}
	if out.Booking, err = s.BookingByID(ctx, id); err != nil {
		return nil, err
	}
	if waiting != 0 {
		out.Waiting, err = s.BookingByID(ctx, waiting)
	}
	return &out, err
}

// payOnce counts a payment unless its key has counted before. waiting is the booking at the
// head of the waiting list of a party that paid too late.
func (t tx) payOnce(by shop.Actor, id shop.BookingID, in shop.PaymentIn) (out Paid, waiting shop.BookingID, err error) {
	b, c, err := t.openBooking(id)
	if err != nil {
		return out, 0, err
	}
	once := Once{Key: in.Key, Fingerprint: fmt.Sprintf("%d/%d", id, in.Cents)}
	if _, seen, err := t.repeated(once, "pay", shop.Itself()); err != nil || seen {
		out.Again = seen
		return out, 0, err
	}
	if err := t.endLate(b, c); err != nil {
		return out, 0, err
	}
	switch b.State {
	case shop.Offered:
		if err := t.takeOffer(by, b, c); err != nil {
			return out, 0, err
		}
		fallthrough
	case shop.Held, shop.Firm, shop.Came, shop.Missed:
		out.Returned, err = t.payStanding(by, b, c, in)
	default:
		waiting, err = t.payTooLate(by, b, c, in)
		out.Returned = in.Cents
	}
	if err != nil {
		return out, 0, err
	}
	return out, waiting, t.remember(once, "pay", shop.Itself(), strconv.FormatInt(int64(id), 10))
}

func (t tx) payStanding(by shop.Actor, b *shop.Booking, c *shop.Class, in shop.PaymentIn) (returned unit.Money, err error) {
	uses, _, err := t.cover(b, c, in)
	if err != nil {
		return 0, err
	}
	var covered unit.Money
	for _, u := range uses {
		covered += u.Cents
	}
	owes := b.Owes() - covered
	if over := in.Cents - owes; over > 0 {
		if in.Method != "till" && in.Method != "online" {
			return 0, field("cents", "That is %s more than is owed.", over)
		}
		returned = over
	}
	if short := b.DueNow() - covered - in.Cents; b.State == shop.Held && short > 0 {
		return 0, field("cents", "%s more is due now before the seats are yours.", short)
	}
	if covered+in.Cents == 0 && b.State != shop.Held {
		return 0, field("cents", "There is nothing in this payment.")
	}
	for _, u := range uses {
		if err := t.spend(by, b, u, in.Key); err != nil {
			return 0, err
		}
	}
	if err := t.movement(by, b, in.Cents, in.Method, in.Key, in.Note); err != nil {
		return 0, err
	}
	if err := t.movement(by, b, -returned, in.Method, in.Key+"/over", "more than was owed, returned at once"); err != nil {
		return 0, err
	}
	paid := b.PaidCents + covered + in.Cents - returned
	if err := t.updateBooking(b, map[string]any{"paid_cents": paid}); err != nil {
		return 0, err
	}
	if err := t.note(by, "booking", int64(b.ID), "paid", "", "", (covered + in.Cents - returned).String()); err != nil {
		return 0, err
	}
	if b.State == shop.Held {
		return returned, t.becomeFirm(by, b, c)
	}
	if returned > 0 && in.Method == "online" {
		n := t.toPayer(b, shop.NoticeReturned, "returned/"+in.Key)
		n.Urgent = true
		if err := t.tell(n, shop.Facts{Ref: b.Ref(), Back: returned, Reason: "It was more than was owed."}); err != nil {
			return 0, err
		}
		if covered+in.Cents == returned {
			return returned, nil // nothing was paid by it
		}
	}
	f, err := t.facts(b, c)
	if err != nil {
		return 0, err
	}
	n := t.toPayer(b, shop.NoticePaid, "paid/"+in.Key)
	n.Urgent = true
	if err := t.tell(n, f); err != nil {
		return 0, err
	}
	return returned, t.remind(b, c)
}

// offers finds the vouchers and credits whose codes are brought. One brought twice, however
// its code is spelled, lies on the table once.
func (t tx) offers(c *shop.Class, in shop.PaymentIn) (out []money.Offer, err error) {
	lay := func(o money.Offer) {
		if !slices.Contains(out, o) {
			out = append(out, o)
		}
	}
	for _, code := range in.Vouchers {
		v, err := t.voucherByCode(code)
		if err != nil {
			return nil, err
		}
		lay(money.Offer{Kind: money.Voucher, ID: int64(v.ID), Left: v.LeftCents,
			OneOff: v.Kind == "seat" && v.KindID == c.KindID && v.State != shop.VoucherPart})
	}
	for _, code := range in.Credits {
		cr, err := t.creditByCode(code)
		if err != nil {
			return nil, err
		}
		lay(money.Offer{Kind: money.Credit, ID: int64(cr.ID), Left: cr.LeftCents})
	}
	return out, nil
}

// cover finds what the vouchers and credits brought cover (R8), and what was brought.
func (t tx) cover(b *shop.Booking, c *shop.Class, in shop.PaymentIn) (uses []money.Source, offers []money.Offer, err error) {
	if offers, err = t.offers(c, in); err != nil {
		return nil, nil, err
	}
	seats, err := t.standing(b, shop.Held, shop.Firm, shop.Came, shop.Missed)
	if err != nil {
		return nil, nil, err
	}
	free := places(seats)
	paid, err := t.paidWith(b)
	if err != nil {
		return nil, nil, err
	}
	for _, p := range paid {
		if p.Whole {
			free--
		}
	}
	uses, _ = money.Cover(b.Owes(), b.SeatCents, free, offers)
	return uses, offers, nil
}

// movement adds one payment row; nothing is written for no money.
func (t tx) movement(by shop.Actor, b *shop.Booking, cents unit.Money, method, key, note string) error {
	if cents == 0 {
		return nil
	}
	return t.pays(shop.Payment{BookingID: b.ID, Cents: cents, Method: method, Key: key, Note: note, At: t.now, Actor: by.Name})
}

// spend takes what a voucher or credit covers off it and writes the payment row.
func (t tx) spend(by shop.Actor, b *shop.Booking, u money.Source, key string) error {
	p := shop.Payment{BookingID: b.ID, Cents: u.Cents, At: t.now, Actor: by.Name}
	if u.Kind == money.Voucher {
		p.VoucherID, p.Method, p.Key = shop.VoucherID(u.ID), "voucher", fmt.Sprintf("%s/voucher/%d", key, u.ID)
		took, err := t.useVoucher(p.VoucherID, u)
		if err != nil {
			return err
		}
		return t.pays(p, line(shop.OwedVoucher, u.ID, took), line(shop.SeatLift, int64(b.ID), u.Cents-took))
	}
	p.CreditID, p.Method, p.Key = shop.CreditID(u.ID), "credit", fmt.Sprintf("%s/credit/%d", key, u.ID)
	if err := t.useCredit(p.CreditID, u.Cents); err != nil {
		return err
	}
	return t.pays(p, line(shop.OwedCredit, u.ID, u.Cents))
}

// paidWith lists what a booking is paid with, net of what went back, oldest first.
func (t tx) paidWith(b *shop.Booking) ([]money.Source, error) {
	rows, err := many[shop.Payment](t.DB, "id", "booking_id = ?", b.ID)
	if err != nil {
		return nil, err
	}
	var out []money.Source
	add := func(s money.Source) {
		for i := range out {
			if out[i].Kind == s.Kind && out[i].ID == s.ID && out[i].Name == s.Name {
				out[i].Cents += s.Cents
				return
			}
		}
		out = append(out, s)
	}
	var toCredit unit.Money // money that became a credit came off the money paid
	for _, p := range rows {
		switch {
		case p.VoucherID != 0:
			v, err := take[shop.Voucher](t.DB, "The voucher", "id = ?", p.VoucherID)
			if err != nil {
				return nil, err
			}
			whole := false
			if v.Kind == "seat" && v.State == shop.VoucherUsed {
				if whole, err = t.usedHereAlone(b, v); err != nil {
					return nil, err
				}
			}
			add(money.Source{Kind: money.Voucher, ID: int64(v.ID), Cents: p.Cents, Whole: whole})
		case p.CreditID != 0 && p.Method == "to credit":
			toCredit -= p.Cents
		case p.CreditID != 0:
			add(money.Source{Kind: money.Credit, ID: int64(p.CreditID), Cents: p.Cents})
		default:
			add(money.Source{Kind: money.Cash, Name: p.Method, Cents: p.Cents})
		}
	}
	off, _ := money.GiveBack(toCredit, out)
	for _, o := range off {
		for i := range out {
			if out[i].Kind == o.Kind && out[i].ID == o.ID && out[i].Name == o.Name {
				out[i].Cents -= o.Cents
			}
		}
	}
	return out, nil
}

// usedHereAlone says whether no other booking was paid with any of a voucher: then it can
// come back whole.
func (t tx) usedHereAlone(b *shop.Booking, v *shop.Voucher) (bool, error) {
	var elsewhere unit.Money
	err := t.Raw("SELECT coalesce(sum(cents), 0) FROM payments WHERE voucher_id = ? AND voucher_id <> 0 AND booking_id NOT IN (0, ?)", v.ID, b.ID).Scan(&elsewhere).Error
	return elsewhere == 0, err
}

// cameLate is the note of a payment whose seats were gone.
const cameLate = "came after the seats were let go"

// payTooLate returns a payment whose seats were let go, and queues the party in front.
// Vouchers and credits are not touched.
func (t tx) payTooLate(by shop.Actor, b *shop.Booking, c *shop.Class, in shop.PaymentIn) (shop.BookingID, error) {
	if in.Cents == 0 {
		return 0, shop.Stop("let_go", "These seats were let go; nothing was taken.")
	}
	var before int64 // a second one does not queue the party twice
	if err := t.Model(&shop.Payment{}).Where("booking_id = ? AND note = ?", b.ID, cameLate).Count(&before).Error; err != nil {
		return 0, err
	}
	if err := t.movement(by, b, in.Cents, in.Method, in.Key, cameLate); err != nil {
		return 0, err
	}
	if err := t.movement(by, b, -in.Cents, in.Method, in.Key+"/back", "returned in full at once"); err != nil {
		return 0, err
	}
	if err := t.note(by, "booking", int64(b.ID), "paid too late, returned", string(b.State), string(b.State), in.Cents.String()); err != nil {
		return 0, err
	}
	queue := before == 0 && c.StartsAt > t.now && c.State != shop.ClassOff && b.State == shop.LetGo
	if in.Method == "online" { // they are not looking at a page of ours
		n := t.toPayer(b, shop.NoticeReturned, "returned/"+in.Key)
		n.Urgent = true
		f := shop.Facts{Ref: b.Ref(), Back: in.Cents, Reason: "It came after your seats were let go."}
		if queue {
			f.Reason = "It came after your seats were let go. You now stand first on the waiting list."
		}
		if err := t.tell(n, f); err != nil {
			return 0, err
		}
	}
	if !queue {
		return 0, nil
	}
	return t.queueAgain(by, b, c)
}

// BeginPaying notes that somebody is at the till: their seats stay some minutes more
// should the hold end meanwhile (R3). It returns the moment the seats are kept until.
func (s *Store) BeginPaying(ctx context.Context, id shop.BookingID) (unit.Instant, error) {
	var until unit.Instant
	err := s.tx(ctx, func(t tx) (err error) {
		until, err = t.beginPaying(id)
		return err
	})
	return until, err
}

func (t tx) beginPaying(id shop.BookingID) (until unit.Instant, err error) {
	h, err := take[shop.SeatHold](t.DB, "The hold on these seats", "booking_id = ? AND ended_at = 0", id)
	if err != nil || h.GraceUntil != 0 {
		if h != nil {
			until = h.GraceUntil
		}
		return until, err
	}
	if t.now >= h.Until {
		return 0, shop.ErrMoved.Saying("The hold on these seats has ended.")
	}
	c, err := take[shop.Class](t.DB, "The class", "id = ?", h.ClassID)
	if err != nil {
		return 0, err
	}
	until = min(h.Until.Add(time.Duration(t.s.Rules.HoldGrace)*time.Minute), max(c.StartsAt, h.Until))
	res := t.Model(&shop.SeatHold{}).Where("id = ? AND ended_at = 0 AND grace_until = 0", h.ID).Update("grace_until", until)
	return until, changed(res, shop.ErrMoved)
}

// field is a no about one question.
func field(name, format string, args ...any) error {
	var w shop.Wrong
	w.Add(name, format, args...)
	return w.Err()
}
