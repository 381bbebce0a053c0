package store

import (
	"context"
	"strings"

	"flitchbook/api/shop"
)

// VoucherByID shows a voucher to the shop's own people.
func (s *Store) VoucherByID(ctx context.Context, id shop.VoucherID) (*VoucherView, error) {
	v, err := take[shop.Voucher](s.read(ctx), "The voucher", "id = ?", id)
	if err != nil {
		return nil, err
	}
	return s.voucherView(ctx, v)
}

// FindVouchers looks for vouchers by their whole code, or, when a card is lost, by the
// name of who gave or got it or by the last four letters of the code. Newest first.
func (s *Store) FindVouchers(ctx context.Context, q string) ([]VoucherView, error) {
	q = trim(q)
	if len([]rune(q)) < 3 {
		return nil, field("q", "Please type the code, or at least three letters of a name.")
	}
	like := "%" + strings.NewReplacer(`\`, `\\`, "%", `\%`, "_", `\_`).Replace(strings.ToLower(q)) + "%"
	rows, err := many[shop.Voucher](s.read(ctx).Limit(mostFound), "id DESC",
		`code_hash = ? OR code_end = ? OR lower(buyer_name) LIKE ? ESCAPE '\' OR lower(receiver_name) LIKE ? ESCAPE '\'`, hashOf(bare(q)), bare(q), like, like)
	if err != nil {
		return nil, err
	}
	if len(rows) == 0 {
		return nil, field("q", "We know no voucher with this code or name.")
	}
	out := make([]VoucherView, 0, len(rows))
	for i := range rows {
		v, err := s.voucherView(ctx, &rows[i])
		if err != nil {
			return nil, err
		}
		out = append(out, *v)
	}
	return out, nil
}

// A KindPrice is a kind of class with what a seat of it costs now.
type KindPrice struct {
	shop.ClassKind
	Card ClassCard // its prices alone
}

// KindPrices lists the kinds of class that have a price today, for who sells a voucher.
func (s *Store) KindPrices(ctx context.Context) ([]KindPrice, error) {
	kinds, err := s.Kinds(ctx)
	if err != nil {
		return nil, err
	}
	var out []KindPrice
	for i := range kinds {
		k := KindPrice{ClassKind: kinds[i]}
		if err := s.prices(s.read(ctx), &kinds[i], s.Now(), &k.Card); err != nil {
			return nil, err
		}
		if k.Card.Price > 0 {
			out = append(out, k)
		}
	}
	return out, nil
}
