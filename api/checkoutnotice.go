package api

import (
	"context"
	"errors"
	"io"
	"net/http"

	"github.com/labstack/echo/v4"

	"flitchbook/api/checkout"
	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// NoticesPath is where the payment provider tells what became of payments.
const NoticesPath = "/checkout/notices"

var errForged = &shop.Error{Kind: shop.Invalid, Code: "forged", Text: "This notice does not bear the provider's signature of now. Nothing was changed."}

// checkoutNotices counts what the payment provider tells. The signature is checked over the
// bytes as they came; a notice without it changes nothing.
func (a *Server) checkoutNotices(e *echo.Echo) {
	e.POST(NoticesPath, func(c echo.Context) error {
		if a.Checkout == nil {
			return shop.Missing("The payment provider")
		}
		body, err := io.ReadAll(c.Request().Body)
		if err != nil {
			return err
		}
		err = a.Checkout.Notice(c.Request().Context(), body, c.Request().Header.Get("Stripe-Signature"))
		if errors.Is(err, checkout.ErrForged) {
			return c.JSON(http.StatusBadRequest, &Problem{Type: "about:blank", Title: http.StatusText(http.StatusBadRequest), Status: http.StatusBadRequest, Detail: errForged.Text, Code: errForged.Code})
		}
		if err != nil {
			a.Store.LogFault("notice of the payment provider", err)
			return c.NoContent(http.StatusInternalServerError) // it will tell again
		}
		return c.NoContent(http.StatusNoContent)
	})
}

type checkoutInput struct {
	Secret string `path:"secret" maxLength:"64"`
	Key    string `header:"Idempotency-Key" required:"true" minLength:"1" maxLength:"100" doc:"A word of your own for this payment: sent twice it is one."`
	Body   struct {
		Vouchers []string `json:"vouchers,omitempty" maxItems:"50" doc:"Codes; spent when the money comes, not before."`
		Credits  []string `json:"credits,omitempty" maxItems:"50"`
		All      bool     `json:"all,omitempty" doc:"Everything owed, not only what is due now."`
	}
}

type checkoutOutput struct {
	Body struct {
		URL   string     `json:"url" doc:"The payment provider's page. Empty: it was paid already."`
		Owed  unit.Money `json:"owed" doc:"Before this payment."`
		Until string     `json:"held_until,omitempty" doc:"Held seats are kept until then, RFC 3339."`
	}
}

var errNoOnline = shop.Stop("no_online", "These pages take no card. Pay at the counter, by telephone or by transfer.")

func (a *Server) checkoutOperations() {
	operation(a, http.MethodPost, "/my-booking/{secret}/checkout", "begin-checkout", "Begin to pay on the payment provider's page", nil,
		func(ctx context.Context, _ shop.Actor, in *checkoutInput) (*checkoutOutput, error) {
			b, err := a.Store.MyBooking(ctx, in.Secret)
			if err != nil {
				return nil, err
			}
			if a.Checkout == nil {
				return nil, errNoOnline
			}
			out := &checkoutOutput{}
			out.Body.Owed = b.Owes
			out.Body.URL, err = a.Checkout.Booking(ctx, shop.Customer("payer of "+b.Ref), b, shop.CheckoutAsk{Vouchers: in.Body.Vouchers, Credits: in.Body.Credits, All: in.Body.All, Key: "api/" + in.Key})
			if err != nil {
				return nil, err
			}
			if b, err = a.Store.MyBooking(ctx, in.Secret); err != nil {
				return nil, err
			}
			if b.HoldUntil > 0 {
				out.Body.Until = b.HoldUntil.Time().Format("2006-01-02T15:04:05Z07:00")
			}
			return out, nil
		})
}
