package api

import (
	"context"
	"net/http"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/unit"
)

type sellVoucherInput struct {
	Key  string `header:"Idempotency-Key" required:"true" minLength:"1" maxLength:"100" doc:"A word of your own for this sale: sent twice it counts once."`
	Body struct {
		Kind          string     `json:"kind" enum:"seat,money"`
		ClassKind     string     `json:"class_kind,omitempty" maxLength:"40" doc:"Of a seat voucher."`
		Amount        unit.Money `json:"amount,omitempty" doc:"Of a money voucher; of a seat voucher the price of the day when left out."`
		Buyer         string     `json:"buyer" maxLength:"80"`
		BuyerEmail    string     `json:"buyer_email,omitempty" maxLength:"254"`
		Receiver      string     `json:"receiver,omitempty" maxLength:"80"`
		ReceiverEmail string     `json:"receiver_email,omitempty" maxLength:"254"`
		SendOn        unit.Day   `json:"send_on,omitempty" doc:"Nothing reaches the receiver before this day."`
		Paid          unit.Money `json:"paid"`
		Method        string     `json:"method" enum:"cash,card,transfer"`
	}
}

type voucherOutput struct {
	Body struct {
		Code      string     `json:"code"`
		Kind      string     `json:"kind"`
		ClassName string     `json:"class_name,omitempty" doc:"The kind of class of a seat voucher, in words."`
		Left      unit.Money `json:"left"`
		Used      bool       `json:"used"`
		ExpiresOn unit.Day   `json:"expires_on"`
	}
}

func voucherFrom(v *store.VoucherView) *voucherOutput {
	out := &voucherOutput{}
	out.Body.Code, out.Body.Kind, out.Body.ClassName = v.Code, v.Kind, v.ClassKind
	out.Body.Left, out.Body.Used, out.Body.ExpiresOn = v.Left, v.Used, v.ExpiresOn
	return out
}

type findVoucherInput struct {
	Body struct {
		Code string `json:"code" maxLength:"40"`
	}
}

// voucherOperations sell a present at the counter and read one by its code, which never
// stands in an address.
func (a *Server) voucherOperations() {
	staff := []shop.Role{shop.Staff}
	operation(a, http.MethodPost, "/vouchers", "sell-voucher", "Sell a voucher at the counter", staff,
		func(ctx context.Context, by shop.Actor, in *sellVoucherInput) (*voucherOutput, error) {
			b := in.Body
			v, err := a.Store.SellVoucher(ctx, by, shop.NewVoucher{Kind: b.Kind, ClassKind: b.ClassKind, Cents: b.Amount, BuyerName: b.Buyer, BuyerEmail: b.BuyerEmail,
				ReceiverName: b.Receiver, ReceiverEmail: b.ReceiverEmail, SendOn: b.SendOn}, shop.PaymentIn{Cents: b.Paid, Method: b.Method, Key: in.Key})
			if err != nil {
				return nil, err
			}
			return voucherFrom(v), nil
		})
	operation(a, http.MethodPost, "/vouchers/find", "find-voucher", "What a voucher is worth", staff,
		func(ctx context.Context, _ shop.Actor, in *findVoucherInput) (*voucherOutput, error) {
			v, err := a.Store.VoucherByCode(ctx, in.Body.Code)
			if err != nil {
				return nil, err
			}
			return voucherFrom(v), nil
		})
}
