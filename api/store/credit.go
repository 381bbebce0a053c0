package store

import (
	"context"
	"fmt"
	"strconv"
	"strings"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// CreditCode is what a person types to spend a credit: its number and a secret derived
// from it, so that nothing of it stands in the database.
func (s *Store) CreditCode(id shop.CreditID) string {
	c := s.secretFor("credit", int(id))
	return fmt.Sprintf("c%d-%s-%s-%s-%s", id, c[0:4], c[4:8], c[8:12], c[12:16])
}

func (t tx) creditByCode(code string) (*shop.Credit, error) {
	no := field("credit", "We know no credit with the code %q.", trim(code))
	num, _, ok := strings.Cut(strings.TrimPrefix(strings.ToLower(trim(code)), "c"), "-")
	id, err := strconv.ParseInt(num, 10, 64)
	if !ok || err != nil || !sameSecret(bare(t.s.CreditCode(shop.CreditID(id))), bare(trim(code))) {
		return nil, no
	}
	c, err := take[shop.Credit](t.DB, "The credit", "id = ?", id)
	if err != nil {
		return nil, err
	}
	switch {
	case c.State == shop.CreditRunOut || c.ExpiresOn < t.today:
		return nil, field("credit", "This credit ran out on %s.", c.ExpiresOn.ShowYear())
	case c.LeftCents == 0:
		return nil, field("credit", "This credit has been used.")
	}
	return c, nil
}

func (t tx) useCredit(id shop.CreditID, cents unit.Money) error {
	c, err := take[shop.Credit](t.DB, "The credit", "id = ?", id)
	if err != nil {
		return err
	}
	state := shop.CreditOpen
	if c.LeftCents == cents {
		state = shop.CreditUsed
	}
	res := t.Model(&shop.Credit{}).Where("id = ? AND left_cents = ? AND left_cents >= ?", id, c.LeftCents, cents).
		Updates(map[string]any{"left_cents": c.LeftCents - cents, "state": state})
	return changed(res, shop.ErrMoved.Saying("This credit is being used somewhere else this moment."))
}

// restoreCredit gives a credit back what a booking had used of it, and with it what had run
// out meanwhile, which it returns.
func (t tx) restoreCredit(id shop.CreditID, cents unit.Money) (revived unit.Money, err error) {
	c, err := take[shop.Credit](t.DB, "The credit", "id = ?", id)
	if err != nil {
		return 0, err
	}
	if c.State == shop.CreditRunOut {
		revived = c.LeftCents
	}
	res := t.Model(&shop.Credit{}).Where("id = ? AND left_cents = ?", id, c.LeftCents).
		Updates(map[string]any{"left_cents": c.LeftCents + cents, "state": shop.CreditOpen, "expires_on": max(c.ExpiresOn, t.today+leastVoucherDays)})
	return revived, changed(res, shop.ErrMoved)
}

// owner of a credit: the payer, unless they name another (R4).
type owner struct{ Name, Email string }

// giveCredit owes a person money for later, good for the months of the house rule, and
// tells them.
func (t tx) giveCredit(by shop.Actor, b *shop.Booking, to owner, cents unit.Money, reason string) (*shop.Credit, error) {
	c := shop.Credit{OwnerName: to.Name, OwnerEmail: to.Email, Cents: cents, LeftCents: cents, State: shop.CreditOpen, Reason: reason,
		BookingID: b.ID, ExpiresOn: t.today.AddMonths(t.s.Rules.CreditMonths), CreatedAt: t.now}
	if err := t.Create(&c).Error; err != nil {
		return nil, err
	}
	if err := t.note(by, "credit", int64(c.ID), "given", "", string(c.State), cents.String()+", "+reason); err != nil {
		return nil, err
	}
	n := shop.Notice{Key: fmt.Sprintf("credit/%d", c.ID), Kind: shop.NoticeCredit, ToName: to.Name, ToAddr: to.Email, Subject: "credit", SubjectID: int64(c.ID)}
	return &c, t.tell(n, shop.Facts{Ref: b.Ref(), Credit: cents, DueOn: c.ExpiresOn, Reason: reason})
}

// Credit reads one.
func (s *Store) Credit(ctx context.Context, id shop.CreditID) (*shop.Credit, error) {
	return take[shop.Credit](s.read(ctx), "The credit", "id = ?", id)
}

func runOutCredits(ctx context.Context, s *Store) error {
	return s.tx(ctx, func(t tx) error {
		rows, err := many[shop.Credit](t.DB, "id", "state = ? AND expires_on < ?", shop.CreditOpen, t.today)
		if err != nil {
			return err
		}
		for _, c := range rows {
			res := t.Model(&shop.Credit{}).Where("id = ? AND state = ? AND left_cents = ?", c.ID, shop.CreditOpen, c.LeftCents).Update("state", shop.CreditRunOut)
			if res.Error != nil || res.RowsAffected == 0 {
				return res.Error // used or run out this moment by somebody else
			}
			if err := t.ranOut(shop.OwedCredit, int64(c.ID), c.LeftCents, c.ExpiresOn); err != nil {
				return err
			}
		}
		return nil
	})
}

func nextCreditEnd(ctx context.Context, s *Store) (unit.Instant, error) {
	var end unit.Day
	if err := s.read(ctx).Raw("SELECT min(expires_on) FROM credits WHERE state = ?", shop.CreditOpen).Scan(&end).Error; err != nil || end == 0 {
		return 0, err
	}
	return (end + 1).At(0, 0, s.Loc), nil
}
