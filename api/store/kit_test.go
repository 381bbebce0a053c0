package store_test

import (
	"context"

	"flitchbook/api/shop"
)

// collect is a sender that keeps what it is handed.
func collect(out *[]message) func(context.Context, shop.Notice, shop.Facts) error {
	return func(_ context.Context, n shop.Notice, f shop.Facts) error {
		*out = append(*out, message{n, f})
		return nil
	}
}
