package checkout

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net/url"
	"strings"

	"flitchbook/api/shop"
	"flitchbook/api/store"
)

// A Desk brings the shop's records and a provider together: records first, the provider
// after that and outside any transaction, then what it answered.
type Desk struct {
	Store    *store.Store
	Provider Provider
	Log      *slog.Logger
}

// ErrAway is a provider that makes no page now. Nothing was taken.
var ErrAway = &shop.Error{Kind: shop.Away, Code: "provider_away", Text: "The page for paying cannot be reached this moment. Nothing was taken. Try again in a minute, or pay at the counter."}

// Booking sends a payer to the provider's page. It returns the page's address, or "" when
// the same press was paid for already. ErrAway: seats that were held still are.
func (d *Desk) Booking(ctx context.Context, by shop.Actor, b *store.BookingView, in shop.CheckoutAsk) (string, error) {
	k, err := d.Store.BeginCheckout(ctx, by, b.ID, in)
	if err != nil {
		return "", err
	}
	home := d.Store.Config.BaseURL + "/b/" + b.Secret
	return d.begin(ctx, k, Order{Words: "Booking " + b.Ref + ": " + b.Class.Title, Email: b.PayerEmail, Done: home + "/paid", Back: home + "/pay"})
}

// Voucher sends somebody who buys a present to the provider's page.
func (d *Desk) Voucher(ctx context.Context, by shop.Actor, n shop.NewVoucher, key string) (string, error) {
	k, err := d.Store.BeginVoucherCheckout(ctx, by, n, key)
	if err != nil {
		return "", err
	}
	home := d.Store.Config.BaseURL + "/vouchers"
	return d.begin(ctx, k, Order{Words: "A voucher of " + d.Store.Config.Shop, Email: n.BuyerEmail, Done: home + "/bought/" + d.Store.CheckoutSecret(k.ID), Back: home})
}

func (d *Desk) begin(ctx context.Context, k *shop.Checkout, o Order) (string, error) {
	o.Ends = k.CreatedAt.Add(PageLife) // of the press, so that trying again asks for the same
	switch k.State {
	case shop.CheckoutOpen:
		return k.URL, nil
	case shop.CheckoutPaid:
		return "", nil
	case shop.CheckoutEnded:
		return "", shop.ErrMoved.Saying("This payment has ended and nothing was taken. Open the page anew to pay.")
	}
	o.ID, o.Cents = k.ID, k.Cents
	o.Key = "begin/" + d.Store.CheckoutSecret(k.ID)
	page, err := d.Provider.Begin(ctx, o)
	if err == nil {
		err = d.ours(page.URL)
	}
	if err != nil {
		d.Log.Warn("the payment provider made no page", "checkout", k.ID, "error", err.Error())
		if err := d.Store.CheckoutRefused(context.WithoutCancel(ctx), k.ID, err.Error()); err != nil {
			return "", err
		}
		return "", ErrAway
	}
	return page.URL, d.Store.CheckoutOpened(context.WithoutCancel(ctx), k.ID, page.Ref, page.URL)
}

// ours refuses to send people anywhere but to the provider's pages.
func (d *Desk) ours(page string) error {
	u, err := url.Parse(page)
	if err != nil || !strings.EqualFold(u.Scheme+"://"+u.Host, d.Provider.Pages()) {
		return fmt.Errorf("its page is not at %s", d.Provider.Pages())
	}
	return nil
}

// Notice counts what the provider tells. ErrForged: it is not from the provider, and
// nothing was changed.
func (d *Desk) Notice(ctx context.Context, body []byte, signature string) error {
	n, err := d.Provider.Read(body, signature)
	if err != nil {
		return err
	}
	switch {
	case n.RefundKey != "":
		_, err := d.Store.RefundTold(ctx, n.RefundKey, n.Refund)
		return err
	case n.Ref != "":
		return d.settle(ctx, n.Ref, n.Result)
	}
	return nil
}

func (d *Desk) settle(ctx context.Context, ref string, got shop.CheckoutResult) error {
	var err error
	switch got.State {
	case shop.CheckoutPaid:
		err = d.Store.CheckoutPaid(ctx, ref, got)
	case shop.CheckoutEnded:
		err = d.Store.CheckoutEnded(ctx, ref)
	}
	if e, ok := shop.AsError(err); ok && e.Kind == shop.NotFound {
		return nil // of something else the shop sells through the same account
	}
	return err
}

// Ask asks at once what became of a checkout: its payer has come back and waits.
func (d *Desk) Ask(ctx context.Context, k shop.Checkout) error {
	if k.State != shop.CheckoutOpen {
		return nil
	}
	got, err := d.Provider.Look(ctx, k.Ref)
	if err != nil {
		d.Log.Warn("the payment provider was asked in vain", "checkout", k.ID, "error", err.Error())
		return nil // its notice is still to come
	}
	return d.settle(ctx, k.Ref, got)
}

// Work does what waits for the provider: money to give back, checkouts to ask after.
func (d *Desk) Work(ctx context.Context) error {
	_, err := d.Store.SendRefunds(ctx, d.Provider.Refund)
	_, aerr := d.Store.AskAfterCheckouts(ctx, d.Provider.Look)
	return errors.Join(err, aerr)
}
