package frontend

import (
	"errors"
	"net/url"
	"strings"
	"testing"

	"github.com/labstack/echo/v4"

	"flitchbook/api"
	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/api/store/storetest"
	"flitchbook/frontend/browsertest"
)

// A booking's page in every state its payer can meet, what a voucher's page says before and
// after, and the pages of a refusal, in a browser.
func TestStatesOfABookingInABrowser(t *testing.T) {
	o := street(t)
	o.e.Use(api.Headers(false))
	o.bacon("B8", "2026-11-21 14:00", 0)
	o.bacon("B9", "2026-12-12 14:00", 0)
	o.Go("2026-10-20 20:10")
	of := func(class, name string) string {
		b := o.booked(class, seats("2", name, name))
		o.paid(b)
		return b
	}
	leaves := of("B5", "Ignace P.") // the last two seats
	w := o.post("/classes/B5/wait", seats("2", "Petra W.", "wait"))
	offered := w.Header().Get("Location")
	letGo := func(path string, choice string) {
		t.Helper()
		v, err := o.MyBooking(o.Ctx, strings.TrimPrefix(path, "/b/"))
		o.must(err)
		_, err = o.LetGo(o.Ctx, shop.Customer("payer"), v.ID, shop.LeaveIn{Choice: choice}, store.Once{})
		o.must(err)
	}
	letGo(leaves, "money")
	o.has(offered, nil, 200, "seats", "until")
	ranOut := o.booked("B8", seats("2", "Hold E.", "h"))
	letGo(ranOut, "")
	off := of("B8", "Nerys O.")
	settled := of("B8", "Bo L.")
	o.must(o.CallOff(o.Ctx, storetest.Odile, "B8", "the smoker is broken and its door is still on its way from the maker"))
	o.has(settled+"/answer", url.Values{"choice": {"credit"}}, 200, "It is settled")
	moved := of("B9", "Solveig A.")
	o.must(o.MoveClass(o.Ctx, storetest.Odile, "B9", o.At("2026-12-19 14:00"), "the room is taken"))
	o.has(moved, nil, 200, "Sat Dec 19")
	guest, err := o.MyBooking(o.Ctx, strings.TrimPrefix(moved, "/b/"))
	o.must(err)
	o.post(moved+"/erase", url.Values{}) // asked to be erased: the page says so
	present, code := o.present("p", url.Values{"receiver": {"Father"}, "receiver_email": {"father@post.example.test"}, "send_on": {"2026-11-25"}})
	spent, spentCode := o.present("q", nil)
	used := o.booked("B7", seats("1", "Used U.", "u"))
	o.has(used+"/till", url.Values{"codes": {spentCode}, "once": {"2"}}, 200, "You are booked")

	for path, err := range map[string]error{
		"/test/403": shop.ErrNotAllowed, "/test/429": &shop.Error{Kind: shop.TooMany, Code: "too_many", Text: "That was a lot in a short time. Wait a minute, then try again. Nothing was changed."},
		"/test/500": errors.New("a fault"), "/test/409": shop.ErrMoved,
	} {
		o.e.GET(path, func(echo.Context) error { return err })
	}
	browsertest.Start(t, o.e).Look(t, map[string]string{
		"offered": offered, "let-go": ranOut, "given-back": leaves, "called-off": off, "settled": settled, "moved": moved,
		"guest-moved": "/g/" + guest.People[1].Secret, "erase-asked": moved + "/data",
		"voucher": present, "voucher-spent": spent, "voucher-book": "/classes/B7/book?seats=1&voucher=" + code,
		"404": "/nowhere", "403": "/test/403", "409": "/test/409", "429": "/test/429", "500": "/test/500",
	})
}
