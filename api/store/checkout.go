package store

import (
	"context"
	"encoding/json"
	"fmt"
	"strconv"
	"strings"
	"time"

	"flitchbook/api/shop"
)

// BeginCheckout writes down what somebody will pay on the provider's page, sum and codes
// fixed, and keeps held seats the minutes of grace (R3). The provider is asked after that,
// outside any transaction. The same key gives the same checkout.
func (s *Store) BeginCheckout(ctx context.Context, by shop.Actor, id shop.BookingID, in shop.CheckoutAsk) (*shop.Checkout, error) {
	var k shop.Checkout
	err := s.tx(ctx, func(t tx) error {
		b, c, err := t.openBooking(id)
		if err != nil {
			return err
		}
		key := fmt.Sprintf("booking/%d/%s", id, in.Key)
		if old, err := t.checkoutWith(key); err != nil || old != nil {
			if old != nil {
				k = *old
			}
			return err
		}
		if in.Key == "" {
			return field("", "This page was made wrongly; open it again before paying.")
		}
		if err := t.endLate(b, c); err != nil {
			return err
		}
		switch b.State {
		case shop.Offered:
			if err := t.takeOffer(by, b, c); err != nil {
				return err
			}
			fallthrough
		case shop.Held:
			if _, err := t.beginPaying(b.ID); err != nil {
				return err
			}
		case shop.Firm, shop.Came, shop.Missed:
		default:
			return shop.ErrMoved.Saying("These seats were let go; there is nothing to pay.")
		}
		uses, _, err := t.cover(b, c, shop.PaymentIn{Vouchers: in.Vouchers, Credits: in.Credits})
		if err != nil {
			return err
		}
		due, owes := b.DueNow(), b.Owes()
		if in.All {
			due = owes
		}
		for _, u := range uses {
			due -= u.Cents
		}
		if due <= 0 {
			return shop.Stop("nothing_to_pay", "There is no money to pay.")
		}
		codes, err := json.Marshal(shop.CheckoutCodes{Vouchers: in.Vouchers, Credits: in.Credits})
		if err != nil {
			return err
		}
		k = shop.Checkout{Key: key, BookingID: b.ID, Cents: due, Codes: string(codes)}
		return t.newCheckout(by, &k)
	})
	if err != nil {
		return nil, err
	}
	return &k, nil
}

// BeginVoucherCheckout is BeginCheckout for a present. Nothing is sold before its money comes.
func (s *Store) BeginVoucherCheckout(ctx context.Context, by shop.Actor, n shop.NewVoucher, key string) (*shop.Checkout, error) {
	n = trimVoucher(n)
	if err := n.Check(s.Today(), by); err != nil {
		return nil, err
	}
	var k shop.Checkout
	err := s.tx(ctx, func(t tx) error {
		if old, err := t.checkoutWith("voucher/" + key); err != nil || old != nil {
			if old != nil {
				k = *old
			}
			return err
		}
		if key == "" {
			return field("", "This page was made wrongly; open it again before paying.")
		}
		_, price, err := t.voucherPrice(n)
		if err != nil {
			return err
		}
		sale, err := json.Marshal(n)
		if err != nil {
			return err
		}
		k = shop.Checkout{Key: "voucher/" + key, Cents: price, Sale: string(sale)}
		return t.newCheckout(by, &k)
	})
	if err != nil {
		return nil, err
	}
	return &k, nil
}

func (t tx) checkoutWith(key string) (*shop.Checkout, error) {
	rows, err := many[shop.Checkout](t.DB, "id", "key = ?", key)
	if err != nil || len(rows) == 0 {
		return nil, err
	}
	return &rows[0], nil
}

// askFirst is how long a notice of the provider may take before it is asked itself.
const askFirst = 3 * time.Minute

func (t tx) newCheckout(by shop.Actor, k *shop.Checkout) error {
	k.State, k.CreatedAt, k.AskAt = shop.CheckoutNew, t.now, t.now.Add(askFirst)
	if err := t.Create(k).Error; isDuplicate(err) {
		return shop.ErrStale
	} else if err != nil {
		return err
	}
	return t.note(by, "checkout", int64(k.ID), "begun", "", string(k.State), k.Cents.String())
}

// CheckoutOpened notes the page the provider made.
func (s *Store) CheckoutOpened(ctx context.Context, id shop.CheckoutID, ref, url string) error {
	return s.tx(ctx, func(t tx) error {
		res := t.Model(&shop.Checkout{}).Where("id = ? AND (state = ? OR state = ? AND ref = ?)", id, shop.CheckoutNew, shop.CheckoutOpen, ref).
			Updates(map[string]any{"state": shop.CheckoutOpen, "ref": ref, "url": url})
		return changed(res, shop.ErrMoved.Saying("This payment has ended. Please begin again."))
	})
}

// CheckoutRefused notes that the provider would or could not make a page. Seats that are
// held stay so; another press begins another checkout.
func (s *Store) CheckoutRefused(ctx context.Context, id shop.CheckoutID, why string) error {
	return s.tx(ctx, func(t tx) error {
		return t.Model(&shop.Checkout{}).Where("id = ? AND state = ?", id, shop.CheckoutNew).
			Updates(map[string]any{"state": shop.CheckoutEnded, "outcome": "the provider made no page: " + why, "ask_at": 0}).Error
	})
}

// CheckoutEnded notes that nobody paid and nobody will. After the money has come it means
// nothing.
func (s *Store) CheckoutEnded(ctx context.Context, ref string) error {
	return s.tx(ctx, func(t tx) error {
		return t.Model(&shop.Checkout{}).Where("ref = ? AND ref <> '' AND state = ?", ref, shop.CheckoutOpen).
			Updates(map[string]any{"state": shop.CheckoutEnded, "outcome": "nobody paid", "ask_at": 0}).Error
	})
}

// CheckoutPaid counts the money of a checkout once, however often and in whatever order it
// is told. Money that cannot be used as it was meant (the seats are gone, a code was used
// elsewhere meanwhile) goes back in full at once, and the payer is told.
func (s *Store) CheckoutPaid(ctx context.Context, ref string, got shop.CheckoutResult) error {
	err := s.tx(ctx, func(t tx) error {
		k, again, err := t.checkoutMoney(ref, got)
		if err != nil || again {
			return err
		}
		if k.Sale != "" {
			return t.sellFor(k, got)
		}
		return t.payFor(k, got)
	})
	refusal, plain := shop.AsError(err)
	if err == nil || !plain || refusal.Kind == shop.NotFound || refusal.Code == shop.ErrStale.Code {
		return err
	}
	return s.tx(ctx, func(t tx) error {
		k, again, err := t.checkoutMoney(ref, got)
		if err != nil || again {
			return err
		}
		return t.returnCheckout(k, got, refusal)
	})
}

// checkoutMoney marks a checkout as paid; the second time it says so and changes nothing.
func (t tx) checkoutMoney(ref string, got shop.CheckoutResult) (k *shop.Checkout, again bool, err error) {
	if k, err = take[shop.Checkout](t.DB, "The checkout", "ref = ? AND ref <> ''", ref); err != nil {
		return nil, false, err
	}
	if got.Cents <= 0 {
		return nil, false, fmt.Errorf("checkout %d: the provider names no money", k.ID)
	}
	res := t.Model(&shop.Checkout{}).Where("id = ? AND state <> ?", k.ID, shop.CheckoutPaid).
		Updates(map[string]any{"state": shop.CheckoutPaid, "payment_ref": got.PaymentRef, "paid_at": t.now, "ask_at": 0, "cents": got.Cents})
	if res.Error != nil {
		return nil, false, res.Error
	}
	return k, res.RowsAffected == 0, nil
}

func checkoutKey(k *shop.Checkout) string { return fmt.Sprintf("checkout/%d", k.ID) }

func (t tx) payFor(k *shop.Checkout, got shop.CheckoutResult) error {
	var codes shop.CheckoutCodes
	if err := json.Unmarshal([]byte(k.Codes), &codes); err != nil {
		return fmt.Errorf("checkout %d: %w", k.ID, err)
	}
	b, err := take[shop.Booking](t.DB, "The booking", "id = ?", k.BookingID)
	if err != nil {
		return err
	}
	by := shop.Customer("payer of " + b.Ref())
	p, _, err := t.payOnce(by, k.BookingID, shop.PaymentIn{Cents: got.Cents, Method: "online", Key: checkoutKey(k), Vouchers: codes.Vouchers, Credits: codes.Credits})
	if err != nil {
		return err
	}
	outcome := "paid"
	if p.Returned > 0 {
		outcome = p.Returned.String() + " went back"
	}
	return t.Model(&shop.Checkout{}).Where("id = ?", k.ID).Update("outcome", outcome).Error
}

func (t tx) sellFor(k *shop.Checkout, got shop.CheckoutResult) error {
	var n shop.NewVoucher
	if err := json.Unmarshal([]byte(k.Sale), &n); err != nil {
		return fmt.Errorf("checkout %d: %w", k.ID, err)
	}
	if got.Cents != k.Cents {
		return field("cents", "%s came for a voucher of %s.", got.Cents, k.Cents)
	}
	// The price is the one it was begun at, and the day of giving may have come meanwhile.
	v, err := t.makeVoucher(shop.Customer("online"), n, k.Cents, shop.PaymentIn{Cents: k.Cents, Method: "online", Key: checkoutKey(k)})
	if err != nil {
		return err
	}
	return t.Model(&shop.Checkout{}).Where("id = ?", k.ID).Updates(map[string]any{"voucher_id": v.ID, "outcome": "paid"}).Error
}

// returnCheckout gives back money that cannot be used as it was meant, and says so.
func (t tx) returnCheckout(k *shop.Checkout, got shop.CheckoutResult, why *shop.Error) error {
	words := why.Text
	for _, name := range []string{"voucher", "credit", "cents"} {
		if text := why.Fields[name]; text != "" {
			words = text
		}
	}
	in := shop.Payment{BookingID: k.BookingID, Cents: got.Cents, Method: "online", Key: checkoutKey(k), Note: words, At: t.now, Actor: shop.Itself().Name}
	back := in
	back.Cents, back.Key, back.Note = -in.Cents, in.Key+"/back", "returned in full at once"
	for _, p := range []shop.Payment{in, back} {
		if err := t.pays(p); err != nil {
			return err
		}
	}
	n := shop.Notice{Key: "returned/" + in.Key, Kind: shop.NoticeReturned, Subject: "checkout", SubjectID: int64(k.ID), Urgent: true}
	f := shop.Facts{Back: got.Cents, Reason: words}
	if k.BookingID != 0 {
		b, err := take[shop.Booking](t.DB, "The booking", "id = ?", k.BookingID)
		if err != nil {
			return err
		}
		n = t.toPayer(b, n.Kind, n.Key)
		n.Urgent, f.Ref = true, b.Ref()
	} else {
		var sale shop.NewVoucher
		if err := json.Unmarshal([]byte(k.Sale), &sale); err != nil {
			return err
		}
		n.ToName, n.ToAddr = sale.BuyerName, sale.BuyerEmail
	}
	if err := t.tell(n, f); err != nil {
		return err
	}
	return t.Model(&shop.Checkout{}).Where("id = ?", k.ID).Update("outcome", got.Cents.String()+" went back: "+words).Error
}

// Checkout reads one by the secret of the page its payer comes back to.
func (s *Store) Checkout(ctx context.Context, secret string) (*shop.Checkout, error) {
	num, _, _ := strings.Cut(secret, "-")
	id, err := strconv.ParseInt(num, 10, 64)
	if err != nil || !sameSecret(s.CheckoutSecret(shop.CheckoutID(id)), secret) {
		return nil, shop.Missing("The payment")
	}
	return take[shop.Checkout](s.read(ctx), "The payment", "id = ?", id)
}

// CheckoutSecret names a checkout to its payer alone.
func (s *Store) CheckoutSecret(id shop.CheckoutID) string {
	return fmt.Sprintf("%d-%s", id, s.secretFor("checkout", int(id)))
}

// Checkouts are a booking's, the newest first.
func (s *Store) Checkouts(ctx context.Context, id shop.BookingID) ([]shop.Checkout, error) {
	return many[shop.Checkout](s.read(ctx), "id DESC", "booking_id = ?", id)
}

// unaskedFor is when a checkout that never got a page is given up.
const unaskedFor = time.Hour

// AskAfterCheckouts asks the provider what became of checkouts whose notice has not come,
// outside any transaction, and does what the notice would have done. What cannot be
// answered now is asked again later. It returns how many were settled.
func (s *Store) AskAfterCheckouts(ctx context.Context, look func(context.Context, string) (shop.CheckoutResult, error)) (int, error) {
	due, err := many[shop.Checkout](s.read(ctx), "ask_at, id", "state IN ? AND ask_at > 0 AND ask_at <= ?", []shop.CheckoutState{shop.CheckoutNew, shop.CheckoutOpen}, s.Now())
	if err != nil {
		return 0, err
	}
	settled := 0
	for _, k := range due {
		if k.State == shop.CheckoutNew {
			if s.Now() >= k.CreatedAt.Add(unaskedFor) {
				err = s.CheckoutRefused(ctx, k.ID, "it was not asked to the end")
			} else {
				err = s.askLater(ctx, k)
			}
			if err != nil {
				return settled, err
			}
			continue
		}
		got, err := look(ctx, k.Ref)
		switch {
		case ctx.Err() != nil:
			return settled, ctx.Err()
		case err != nil:
			s.log.Warn("the payment provider was asked in vain", "checkout", k.ID, "error", err.Error())
			err = s.askLater(ctx, k)
		case got.State == shop.CheckoutPaid:
			settled, err = settled+1, s.CheckoutPaid(ctx, k.Ref, got)
		case got.State == shop.CheckoutEnded:
			settled, err = settled+1, s.CheckoutEnded(ctx, k.Ref)
		default:
			err = s.askLater(ctx, k)
		}
		if err != nil {
			return settled, err
		}
	}
	return settled, nil
}

func (s *Store) askLater(ctx context.Context, k shop.Checkout) error {
	return s.tx(ctx, func(t tx) error {
		return t.Model(&shop.Checkout{}).Where("id = ? AND asked = ? AND ask_at > 0", k.ID, k.Asked).
			Updates(map[string]any{"asked": k.Asked + 1, "ask_at": Backoff(k.Asked+2, t.now)}).Error
	})
}
