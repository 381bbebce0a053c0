package frontend

import (
	"context"
	"errors"
	"net/url"
	"strings"
	"testing"
	"time"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/api/store/storetest"
	"flitchbook/frontend/browsertest"
)

// The pages of messages and calendars fit a phone and the counter's tablet, have nothing
// too small to press and break no rule of accessibility.
func TestCalendarPagesInABrowser(t *testing.T) {
	o := openOffice(t)
	farm := shortOrder(o) + "/calendar"
	b, err := o.Book(o.Ctx, storetest.Tobias, shop.NewBooking{Class: "B9", PayerName: "Ignace V.", PayerEmail: "ignace.with.a.long.name@post.example.test",
		PayerPhone: "555 0120", People: []shop.NewPerson{{Name: "Ignace", Payer: true}}}, store.Once{})
	o.must(err)
	_, err = o.Pay(o.Ctx, storetest.Tobias, b.ID, shop.PaymentIn{Cents: b.DueNow, Method: "till", Key: "till/ignace"})
	o.must(err)
	for range 3 {
		o.Clock.Add(time.Hour) // past the pause before the next try
		_, err = o.Deliver(o.Ctx, func(_ context.Context, n shop.Notice, _ shop.Facts) error {
			if strings.HasPrefix(n.ToAddr, "ignace") {
				return errors.New("550 5.1.1 ignace.with.a.long.name@post.example.test: nobody of that name here")
			}
			return nil
		})
		o.must(err)
	}
	board, err := o.Notices(o.Ctx)
	o.must(err)
	if len(board.Failing) == 0 || len(board.Waiting) == 0 || len(board.Sent) == 0 {
		t.Fatalf("%d failing, %d waiting, %d sent: too few to look at", len(board.Failing), len(board.Waiting), len(board.Sent))
	}
	o.must(o.MarkCameBack(o.Ctx, storetest.Odile, board.Sent[0].ID))
	o.has("/owner/notices", url.Values(nil), 200, "nobody of that name here", "Tried ", "Try now", "It came back")

	br := browsertest.Start(t, o.e)
	for name, path := range map[string]string{"notices": "/owner/notices", "calendars": "/staff/calendars", "farm-calendar": farm, "own-calendar": "/b/" + b.Secret + "/calendar"} {
		br.On(t, name, path, 48, []browsertest.Screen{browsertest.Narrow, browsertest.Phone, browsertest.Tablet})
	}
}
