package store

import (
	"context"
	"fmt"
	"time"

	"flitchbook/api/shop"
	"flitchbook/planner/money"
	"flitchbook/planner/unit"
)

const hour = time.Hour

// touched are the parties and seats a class that is called off concerns. It may come to
// that at the door, when some have been noted as come: they have had no class either.
var touched = []shop.BookingState{shop.Waiting, shop.Offered, shop.Held, shop.Firm, shop.Came, shop.Missed}

// CallOff ends a class by the shop's decision. Everybody is written to, calendar entries
// are called off, and each party that paid chooses money, a move or credit (R5).
func (s *Store) CallOff(ctx context.Context, by shop.Actor, code, reason string) error {
	return s.tx(ctx, func(t tx) error { return t.callOff(by, code, reason) })
}

func (t tx) callOff(by shop.Actor, code, reason string) error {
	c, err := t.lockClassCode(code)
	if err != nil {
		return err
	}
	from := c.State
	if err := shop.ClassMoves.Check(from, shop.ClassOff); err != nil {
		return err
	}
	res := t.Model(&shop.Class{}).Where("id = ? AND state = ?", c.ID, from).Update("state", shop.ClassOff)
	if err := changed(res, shop.ErrMoved); err != nil {
		return err
	}
	c.State = shop.ClassOff
	if err := t.note(by, "class", int64(c.ID), "called off", string(from), string(c.State), reason); err != nil {
		return err
	}
	if from != shop.Sketched {
		if err := t.classEntry(c); err != nil {
			return err
		}
	}
	bookings, err := many[shop.Booking](t.DB, "number", "class_id = ? AND state IN ?", c.ID,
		touched)
	if err != nil {
		return err
	}
	for i := range bookings {
		if err := t.callOffBooking(by, &bookings[i], c, reason); err != nil {
			return err
		}
	}
	return nil
}

func (t tx) callOffBooking(by shop.Actor, b *shop.Booking, c *shop.Class, reason string) error {
	from := b.State
	f, err := t.facts(b, c)
	if err != nil {
		return err
	}
	plain, err := t.guestFacts(b, c)
	if err != nil {
		return err
	}
	readers, err := t.readers(b)
	if err != nil {
		return err
	}
	seats, err := t.standing(b, touched...)
	if err != nil {
		return err
	}
	sold := from == shop.Firm || from == shop.Came || from == shop.Missed
	taken := 0
	if from.Holds() {
		taken = places(seats)
	}
	if err := t.turnSeats(seats, shop.SeatOff); err != nil {
		return err
	}
	if err := t.closeHold(b, "called off"); err != nil {
		return err
	}
	err = t.Model(&shop.WaitingEntry{}).Where("booking_id = ? AND ended_at = 0", b.ID).Updates(map[string]any{"ended_at": t.now, "outcome": "called off"}).Error
	if err != nil {
		return err
	}
	set := map[string]any{"state": shop.SeatOff, "total_cents": 0, "balance_due_on": unit.Day(0), "deposit_cents": 0}
	if b.PaidCents > b.KeptCents {
		set["answer_until"] = t.now.Add(time.Duration(t.s.Rules.AnswerDays) * 24 * hour)
	}
	if err := t.updateBooking(b, set); err != nil {
		return err
	}
	if err := t.note(by, "booking", int64(b.ID), "called off", string(from), string(shop.SeatOff), reason); err != nil {
		return err
	}
	if err := t.untellBooking(b); err != nil {
		return err
	}
	for _, kind := range []string{"balance", "ready"} {
		if err := t.cancelEntry(t.s.uid(kind, int64(b.ID))); err != nil {
			return err
		}
	}
	if sold {
		if f.Invite, err = t.bookingEntry(b, c, true); err != nil {
			return err
		}
	}
	urgent := c.StartsAt.Sub(t.now) < 48*hour // R40
	f.Reason, f.Until, f.DueOn = reason, b.AnswerUntil, 0
	n := t.toPayer(b, shop.NoticeClassOff, fmt.Sprintf("class-off/%d/%s", b.ID, c.Code))
	n.Urgent = urgent
	if err := t.tell(n, f); err != nil {
		return err
	}
	plain.Reason = reason
	for _, rd := range readers {
		if rd.guest == nil || !sold {
			continue
		}
		n := t.toGuest(b, rd.guest, shop.NoticeClassOff, fmt.Sprintf("class-off/%d/%s/guest %d", b.ID, c.Code, rd.guest.ID))
		n.Urgent = urgent
		if err := t.tell(n, plain); err != nil {
			return err
		}
	}
	for _, s := range seats {
		if err := t.unseatSlabs(s.ID); err != nil {
			return err
		}
	}
	return t.freeSeats(c, taken)
}

// MoveClass gives a class another moment by the shop's decision. Entries keep their UID,
// reminders and the day of the rest follow, and each party may accept, take its money back
// or a credit; silence is money back (R5).
func (s *Store) MoveClass(ctx context.Context, by shop.Actor, code string, starts unit.Instant, reason string) error {
	return s.tx(ctx, func(t tx) error { return t.moveClassTo(by, code, starts, reason) })
}

func (t tx) moveClassTo(by shop.Actor, code string, starts unit.Instant, reason string) error {
	s := t.s
	c, err := t.lockClassCode(code)
	if err != nil {
		return err
	}
	if c.State != shop.Sketched && c.State != shop.Open && c.State != shop.GoingAhead {
		return shop.ErrMoved.Saying("Class %s is %s; it can no longer move.", c.Code, c.State)
	}
	if starts <= t.now {
		return field("starts", "That moment has passed.")
	}
	var there int64
	if err := t.Model(&shop.Seat{}).Where("class_id = ? AND state IN ?", c.ID, []shop.BookingState{shop.Came, shop.Missed}).Count(&there).Error; err != nil {
		return err
	}
	if there > 0 || c.StartsAt <= t.now {
		return shop.ErrMoved.Saying("Class %s has begun; it can no longer move.", c.Code)
	}
	old := c.StartsAt
	length := c.EndsAt.Sub(c.StartsAt)
	c.StartsAt, c.EndsAt, c.Day = starts, starts.Add(length), starts.Day(s.Loc)
	if c.State != shop.Sketched {
		// One at a time: two that each find the room free may not both have it.
		if err := t.Exec("UPDATE class_kinds SET seats = seats").Error; err != nil {
			return err
		}
		if err := t.needRoom(c); err != nil {
			return err
		}
	}
	res := t.Model(&shop.Class{}).Where("id = ?", c.ID).Updates(map[string]any{"starts_at": c.StartsAt, "ends_at": c.EndsAt, "day": c.Day, "needs_asked_at": 0})
	if err := changed(res, shop.ErrMoved); err != nil {
		return err
	}
	if err := t.note(by, "class", int64(c.ID), "moved", old.Show(s.Loc), starts.Show(s.Loc), reason); err != nil {
		return err
	}
	if err := t.meatStays(c); err != nil {
		return err
	}
	if c.State == shop.Sketched {
		return nil
	}
	if err := t.classEntry(c); err != nil {
		return err
	}
	bookings, err := many[shop.Booking](t.DB, "number", "class_id = ? AND state = ?", c.ID, shop.Firm)
	if err != nil {
		return err
	}
	for i := range bookings {
		b := &bookings[i]
		set := map[string]any{"answer_until": min(t.now.Add(time.Duration(s.Rules.AnswerDays)*24*hour), c.StartsAt)}
		if b.BalanceDueOn != 0 && b.Owes() > 0 {
			days := s.Rules.BalanceDays
			if c.Private {
				days = s.Rules.PrivateBalance
			}
			set["balance_due_on"] = max(c.Day-unit.Day(days), t.today)
		}
		if err := t.updateBooking(b, set); err != nil {
			return err
		}
		if err := t.settle(b, c); err != nil {
			return err
		}
		if err := t.tellMoved(b, c, false); err != nil {
			return err
		}
	}
	return nil
}

// Answer is a party's choice after the shop called off or moved its class (R5): one of
// the shop.Answer… words; to is the class for a move.
func (s *Store) Answer(ctx context.Context, by shop.Actor, id shop.BookingID, choice, to string) (*BookingView, error) {
	err := s.tx(ctx, func(t tx) error {
		if choice == shop.AnswerMove {
			return t.answerMove(by, id, to)
		}
		b, c, err := t.openBooking(id)
		if err != nil {
			return err
		}
		if b.AnswerUntil == 0 {
			return errAnswered
		}
		return t.answer(by, b, c, choice)
	})
	if err != nil {
		return nil, err
	}
	return s.BookingByID(ctx, id)
}

func (t tx) answerMove(by shop.Actor, id shop.BookingID, to string) error {
	b, from, target, err := t.openMove(id, to)
	if err != nil {
		return err
	}
	if b.AnswerUntil == 0 || b.State != shop.SeatOff && b.State != shop.Firm {
		return errAnswered
	}
	if from.ID == target.ID {
		return field("to", "Please choose another date.")
	}
	return t.moveSeats(by, b, from, target, b.State)
}

var errAnswered = shop.ErrMoved.Saying("You have answered already, or there is nothing to choose.")

func (t tx) answer(by shop.Actor, b *shop.Booking, c *shop.Class, choice string) error {
	if choice == shop.AnswerAccept {
		if b.State != shop.Firm {
			return field("choice", "This class does not take place; please choose money, credit or another date.")
		}
		if err := t.updateBooking(b, map[string]any{"answer_until": unit.Instant(0)}); err != nil {
			return err
		}
		if err := t.note(by, "booking", int64(b.ID), "accepted the new date", "", "", c.Code); err != nil {
			return err
		}
		return t.remind(b, c)
	}
	if choice != shop.AnswerMoney && choice != shop.AnswerCredit {
		return field("choice", "Please choose money, credit or another date.")
	}
	amount := b.PaidCents - b.KeptCents
	back, credit, err := t.giveBackAll(by, b, amount, choice)
	if err != nil {
		return err
	}
	set := map[string]any{"answer_until": unit.Instant(0)}
	var gone []shop.Seat
	if b.State == shop.Firm { // of a class that was moved: they do not come
		if gone, err = t.standing(b, shop.Firm); err != nil {
			return err
		}
		if err := t.turnSeats(gone, shop.SeatOff); err != nil {
			return err
		}
		set["state"], set["total_cents"], set["balance_due_on"] = shop.SeatOff, 0, unit.Day(0)
	}
	if err := t.updateBooking(b, set); err != nil {
		return err
	}
	if err := t.note(by, "booking", int64(b.ID), "chose "+choice, "", "", fmt.Sprintf("%s back, %s credit", back, credit)); err != nil {
		return err
	}
	f, err := t.facts(b, c)
	if err != nil {
		return err
	}
	f.Back, f.Credit = back, credit
	if len(gone) > 0 {
		if f.Invite, err = t.bookingEntry(b, c, true); err != nil {
			return err
		}
		if err := t.seatsGone(b, c, gone, true); err != nil {
			return err
		}
	}
	n := t.toPayer(b, shop.NoticeLetGo, fmt.Sprintf("answered/%d/r%d", b.ID, b.Revision))
	n.Urgent = by.Kind == "customer"
	if err := t.tell(n, f); err != nil {
		return err
	}
	if len(gone) == 0 {
		return nil
	}
	if err := t.freeSeats(c, places(gone)); err != nil {
		return err
	}
	return t.offerFreed(c)
}

// giveBackAll returns everything paid after the shop's own doing: vouchers and credits as
// they were, money as money or as a credit of the house rule's share (R5).
func (t tx) giveBackAll(by shop.Actor, b *shop.Booking, amount unit.Money, choice string) (back, credit unit.Money, err error) {
	key, why := fmt.Sprintf("off/%d/r%d", b.ID, b.Revision), "the shop called off or moved the class"
	if choice == shop.AnswerMoney {
		return t.giveBack(by, b, amount, "money", owner{b.PayerName, b.PayerEmail}, key, why)
	}
	paid, err := t.paidWith(b)
	if err != nil {
		return 0, 0, err
	}
	var cash unit.Money
	for _, p := range paid {
		if p.Kind == money.Cash {
			cash += p.Cents
		}
	}
	cash = min(cash, amount)
	if cash > 0 {
		credit = money.CalledOffCredit(cash, t.s.moneyRules())
		if err := t.toCredit(by, b, cash, credit, owner{b.PayerName, b.PayerEmail}, key+"/raised", why); err != nil {
			return 0, 0, err
		}
		if err := t.updateBooking(b, map[string]any{"paid_cents": b.PaidCents - cash}); err != nil {
			return 0, 0, err
		}
	}
	back, rest, err := t.giveBack(by, b, amount-cash, "money", owner{b.PayerName, b.PayerEmail}, key, why)
	return back, credit + rest, err
}

func nextAnswerEnd(ctx context.Context, s *Store) (unit.Instant, error) {
	return s.earliest(ctx, "SELECT min(answer_until) FROM bookings WHERE answer_until > 0")
}

// endAnswers gives all money back to parties that have not answered in time (R5).
func endAnswers(ctx context.Context, s *Store) error {
	due, err := many[shop.Booking](s.read(ctx), "answer_until, number", "answer_until > 0 AND answer_until <= ?", s.Now())
	if err != nil {
		return err
	}
	for _, d := range due {
		err := s.tx(ctx, func(t tx) error {
			b, c, err := t.openBooking(d.ID)
			if err != nil || b.AnswerUntil == 0 || b.AnswerUntil > t.now {
				return err
			}
			return t.answer(shop.Itself(), b, c, shop.AnswerMoney)
		})
		if err != nil {
			return err
		}
	}
	return nil
}
