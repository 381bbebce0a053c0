package store

import (
	"fmt"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

func line(a shop.LedgerAccount, subject int64, cents unit.Money) shop.LedgerLine {
	return shop.LedgerLine{Account: a, Subject: subject, Cents: cents}
}

// post writes one entry of the ledger, in the transaction of the fact it belongs to. Lines
// of no money fall away, and an entry that then has none is not written. An entry that does
// not balance is refused, and with it the fact.
func (t tx) post(e shop.LedgerEntry, lines ...shop.LedgerLine) error {
	var sum unit.Money
	var keep []shop.LedgerLine
	for _, l := range lines {
		if _, ok := l.Account.Group(); !ok {
			return fmt.Errorf("ledger: entry %s names no account of ours: %q", e.Key, l.Account)
		}
		sum += l.Cents
		if l.Cents != 0 {
			keep = append(keep, l)
		}
	}
	if sum != 0 {
		return fmt.Errorf("ledger: entry %s is %s out of balance", e.Key, sum)
	}
	if len(keep) == 0 {
		return nil
	}
	e.At, e.Day = t.now, t.today
	if err := t.Create(&e).Error; err != nil {
		return fmt.Errorf("ledger: entry %s: %w", e.Key, err)
	}
	for i := range keep {
		keep[i].EntryID = e.ID
	}
	return t.Create(&keep).Error
}

// pays writes a payment row and its entry. other are the lines against the booking's or
// the voucher sale's money; with none the money moved in hand. ErrStale: the same notice is
// being counted this moment.
func (t tx) pays(p shop.Payment, other ...shop.LedgerLine) error {
	if err := t.Create(&p).Error; isDuplicate(err) {
		return shop.ErrStale
	} else if err != nil {
		return err
	}
	e := shop.LedgerEntry{Key: "payment/" + p.Key, Text: p.Note, Actor: p.Actor, BookingID: p.BookingID}
	if e.Text == "" {
		e.Text = "paid by " + p.Method
	}
	if len(other) == 0 {
		in, ok := shop.MoneyAccount(p.Method)
		if !ok {
			return fmt.Errorf("ledger: no account for money paid by %q", p.Method)
		}
		other = []shop.LedgerLine{line(in, 0, p.Cents)}
	}
	owed := line(shop.OwedBooking, int64(p.BookingID), -p.Cents)
	if p.BookingID == 0 {
		owed = line(shop.OwedVoucher, int64(p.VoucherID), -p.Cents)
	}
	if err := t.post(e, append(other, owed)...); err != nil || p.Method != "online" || p.Cents > 0 {
		return err
	}
	return t.queueRefund(p)
}

// booksFollow brings the ledger into line with a booking's row: what the leaving rule keeps
// of it, what its class has earned of it.
func (t tx) booksFollow(before shop.Booking, b *shop.Booking) error {
	if before.PaidCents == b.PaidCents && before.KeptCents == b.KeptCents && before.TotalCents == b.TotalCents {
		return nil
	}
	if kept := b.KeptCents - before.KeptCents; kept != 0 {
		e := shop.LedgerEntry{Key: fmt.Sprintf("kept/%d/r%d", b.ID, b.Revision), Text: "kept by the leaving rule", BookingID: b.ID}
		if kept < 0 {
			e.Text = "no longer kept: the seat was sold again"
		}
		if err := t.post(e, line(shop.OwedBooking, int64(b.ID), kept), line(shop.KeptSeats, int64(b.ClassID), -kept)); err != nil {
			return err
		}
	}
	c, err := take[shop.Class](t.DB, "The class", "id = ?", b.ClassID)
	if err != nil {
		return err
	}
	return t.earn(shop.Itself(), b, c.ID, c.State.IsTaught())
}

// earnClass makes what was paid for a class that has been taught the shop's own.
func (t tx) earnClass(by shop.Actor, c *shop.Class) error {
	bookings, err := many[shop.Booking](t.DB, "number", "class_id = ?", c.ID)
	if err != nil {
		return err
	}
	for i := range bookings {
		if err := t.earn(by, &bookings[i], c.ID, true); err != nil {
			return err
		}
	}
	return nil
}

// earn brings a booking's part of its class's earnings up to date: nothing before the class
// is taught, then what was paid for the seats that stood. More than they cost stays owed.
// Once nothing of a booking is owed any more, what seat vouchers lifted it above what they
// brought comes off what it brought (R42).
func (t tx) earn(by shop.Actor, b *shop.Booking, class shop.ClassID, taught bool) error {
	var target unit.Money
	if taught {
		target = max(0, min(b.PaidCents-b.KeptCents, b.TotalCents))
	}
	to := shop.KeptSeats
	if taught && b.TotalCents > 0 {
		to = shop.EarnedClass
	}
	lines := []shop.LedgerLine{line(shop.OwedBooking, int64(b.ID), target-b.EarnedCents), line(shop.EarnedClass, int64(class), b.EarnedCents-target)}
	if b.PaidCents-b.KeptCents-target == 0 {
		lift, err := balance(t.DB, shop.SeatLift, int64(b.ID))
		if err != nil {
			return err
		}
		lines = append(lines, line(shop.SeatLift, int64(b.ID), -lift), line(to, int64(class), lift))
	}
	if target != b.EarnedCents {
		if err := t.Model(&shop.Booking{}).Where("id = ?", b.ID).Update("earned_cents", target).Error; err != nil {
			return err
		}
		b.EarnedCents = target
	}
	return t.post(shop.LedgerEntry{Key: fmt.Sprintf("earned/%d/r%d/%t", b.ID, b.Revision, taught), Text: "the seats' money is the shop's own", Actor: by.Name, BookingID: b.ID}, lines...)
}

// gaveMore notes what somebody gave beyond the leaving rule, with their reason: kept by the
// rule, and given.
func (t tx) gaveMore(by shop.Actor, b *shop.Booking, c *shop.Class, cents unit.Money, key, reason string) error {
	return t.post(shop.LedgerEntry{Key: key, Text: "kinder than the rule: " + reason, Actor: by.Name, BookingID: b.ID},
		line(shop.GivenKindly, int64(b.ID), cents), line(shop.KeptSeats, int64(c.ID), -cents))
}

// thank gives a credit that nobody paid for.
func (t tx) thank(by shop.Actor, b *shop.Booking, cents unit.Money, why string) error {
	c, err := t.giveCredit(by, b, owner{b.PayerName, b.PayerEmail}, cents, why)
	if err != nil {
		return err
	}
	return t.post(shop.LedgerEntry{Key: fmt.Sprintf("credit/%d", c.ID), Text: why, Actor: by.Name, BookingID: b.ID},
		line(shop.GivenKindly, int64(b.ID), cents), line(shop.OwedCredit, int64(c.ID), -cents))
}

// ranOut makes what was left of a voucher or credit the shop's own.
func (t tx) ranOut(a shop.LedgerAccount, id int64, left unit.Money, day unit.Day) error {
	return t.post(shop.LedgerEntry{Key: fmt.Sprintf("run out/%s/%d/%s", a, id, day), Text: "ran out on " + day.ShowYear(), Actor: shop.Itself().Name},
		line(a, id, left), line(shop.RunOut, 0, -left))
}

func (t tx) billsPaid(by shop.Actor, o *shop.Order, b Bills) error {
	return t.post(shop.LedgerEntry{Key: fmt.Sprintf("bills/%d", o.ID), Text: fmt.Sprintf("bills of order %d", o.Number), Actor: by.Name},
		line(shop.CostFarm, int64(o.ID), b.Farm), line(shop.CostPlant, int64(o.ID), b.Plant), line(shop.BillsPaid, 0, -b.Farm-b.Plant))
}

// balance of an account for one subject.
func balance(db *gorm.DB, a shop.LedgerAccount, subject int64) (unit.Money, error) {
	var sum unit.Money
	err := db.Raw("SELECT coalesce(sum(cents), 0) FROM ledger_lines WHERE account = ? AND subject = ?", a, subject).Scan(&sum).Error
	return sum, err
}
