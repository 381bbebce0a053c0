package store_test

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"reflect"
	"strings"
	"testing"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/api/store/storetest"
	"flitchbook/planner/unit"
)

// A person's own data by their link and in the owner's hands, and what stays of them when
// they are erased: nothing by name, everything that safety and the books need.
func TestPersonDataAndErasing(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		must := func(err error) {
			t.Helper()
			if err != nil {
				t.Fatal(err)
			}
		}
		h.Go("2026-10-05 09:00")
		starts := h.At("2026-11-07 14:00")
		_, err := h.AddClass(h.Ctx, storetest.Odile, shop.NewClass{Code: "D9", Kind: "pig", StartsAt: starts, MinSeats: -1, DemoSlabs: -1})
		must(err)
		must(h.Publish(h.Ctx, storetest.Odile, "D9"))
		b, err := h.Book(h.Ctx, shop.Customer("online"), shop.NewBooking{Class: "D9", PayerName: "Petra M.", PayerEmail: "petra@post.example.test", PayerPhone: "555 0190", Note: "comes by bus",
			People: []shop.NewPerson{{Payer: true, Needs: shop.Answers{State: shop.HasNeeds, Remember: true, Needs: []shop.NewNeed{{Allergen: "peanut", Severe: true}}}},
				{Name: "Bo R.", Email: "bo@post.example.test", Needs: shop.Answers{State: shop.HasNeeds, Needs: []shop.NewNeed{{Allergen: "milk"}}}}}}, store.Once{})
		must(err)
		_, err = h.Pay(h.Ctx, storetest.Nadia, b.ID, shop.PaymentIn{Cents: 330_00, Method: "cash", Key: "k"})
		must(err)
		petra, bo := store.PersonKey{Booking: b.ID}, store.PersonKey{Guest: b.People[1].GuestID}
		text := func(k store.PersonKey, byLink bool) string {
			t.Helper()
			d, err := h.PersonData(h.Ctx, k, byLink)
			must(err)
			out, err := json.Marshal(d)
			must(err)
			return string(out)
		}
		for _, want := range []string{"Petra M.", "petra@post.example.test", "555 0190", "comes by bus", "$330.00", "peanut", "booked"} {
			if got := text(petra, false); !strings.Contains(got, want) {
				t.Errorf("the owner's export does not say %q: %s", want, got)
			}
		}
		for _, k := range []store.PersonKey{petra, bo} {
			if got := text(k, true); strings.Contains(got, "peanut") || strings.Contains(got, "milk") {
				t.Errorf("by a link stands what was answered about food: %s", got)
			}
		}
		if got := text(petra, false); strings.Contains(got, "Bo R.") || strings.Contains(got, "milk") {
			t.Errorf("Petra's data tell of Bo: %s", got)
		}
		if got := text(bo, false); strings.Contains(got, "Petra") || strings.Contains(got, "$330.00") || !strings.Contains(got, "milk") {
			t.Errorf("Bo's data: %s", got)
		}

		// Nobody is erased while a seat is ahead; only the owner erases, and says how it was asked.
		if err := h.ErasePerson(h.Ctx, storetest.Odile, petra, "by letter"); err == nil || !strings.Contains(err.Error(), "class ahead") {
			t.Errorf("erased with a class ahead: %v", err)
		}
		must(h.AskErase(h.Ctx, petra))
		must(h.AskErase(h.Ctx, petra))
		told := 0
		h.Go("2026-10-05 10:00")
		_, err = h.Deliver(h.Ctx, func(_ context.Context, n shop.Notice, _ shop.Facts) error {
			if strings.HasPrefix(n.Key, "erase/") {
				told++
			}
			return nil
		})
		must(err)
		if n := told; n != 1 {
			t.Errorf("asked twice, the owner is told %d times", n)
		}
		h.Go("2026-11-08 09:00")
		if err := h.ErasePerson(h.Ctx, storetest.Nadia, petra, "by letter"); err == nil {
			t.Error("staff erased somebody")
		}
		if err := h.ErasePerson(h.Ctx, storetest.Odile, petra, " "); err == nil {
			t.Error("erased without saying how it was asked")
		}
		must(h.ErasePerson(h.Ctx, storetest.Odile, petra, "by letter of Nov 8"))
		for _, k := range []store.PersonKey{petra, {Guest: b.People[0].GuestID}} {
			if got := text(k, false); strings.Contains(got, "Petra") || strings.Contains(got, "petra@") || strings.Contains(got, "555 0190") || strings.Contains(got, "bus") || strings.Contains(got, "peanut") {
				t.Errorf("still there: %s", got)
			}
		}
		if _, err := h.MyBooking(h.Ctx, b.Secret); err == nil {
			t.Error("the old link still opens the booking")
		}
		v, err := h.BookingByNumber(h.Ctx, b.Number)
		must(err)
		if v.Paid != 330_00 || v.Total != 330_00 || len(v.People) != 2 || v.PayerName != store.Erased || v.People[1].Name != "Bo R." {
			t.Errorf("the books after erasing: %+v", v)
		}
		if got := text(bo, false); !strings.Contains(got, "milk") {
			t.Errorf("Bo's answer went with Petra's: %s", got)
		}
		problems, err := h.Check(h.Ctx)
		must(err)
		for _, f := range problems {
			if len(f.Broken) > 0 {
				t.Errorf("the records do not hold together: %+v", f)
			}
		}
	})
}

// standsIn names a record in which a word stands, with what stands around it; "": nowhere.
func standsIn(db *gorm.DB, word string) (string, error) {
	for _, r := range records() {
		all := reflect.New(reflect.SliceOf(reflect.TypeOf(r).Elem())).Interface()
		if err := db.Find(all).Error; err != nil {
			return "", err
		}
		text, err := json.Marshal(all)
		if err != nil {
			return "", err
		}
		if i := strings.Index(strings.ToLower(string(text)), strings.ToLower(word)); i >= 0 {
			return fmt.Sprintf("%s: …%s…", r.TableName(), text[max(0, i-200):min(len(text), i+100)]), nil
		}
	}
	return "", nil
}

// Somebody who left with a credit, used it up and bought a present online is in messages
// about the credit and the present, and in what was asked of the payment provider: erased,
// their name and address stand in no record.
func TestErasedFromMessagesAboutCreditsAndPresents(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		must := func(err error) {
			t.Helper()
			if err != nil {
				t.Fatal(err)
			}
		}
		class(t, h, "D1", "pig", "2026-10-22 18:00")
		class(t, h, "D2", "pig", "2026-11-05 18:00")
		h.Go("2026-10-01 12:00")
		old, err := h.Book(h.Ctx, shop.Customer("online"), party("D1", "Isabeau I.", 1), store.Once{})
		must(err)
		_, err = h.Pay(h.Ctx, storetest.Nadia, old.ID, shop.PaymentIn{Cents: 165_00, Method: "cash", Key: "o"})
		must(err)
		_, err = h.LetGo(h.Ctx, shop.Customer("payer of K01"), old.ID, shop.LeaveIn{Choice: "credit"}, store.Once{})
		must(err)
		credit := ofKind(send(t, h), shop.NoticeCredit)
		b, err := h.Book(h.Ctx, shop.Customer("online"), party("D2", "Isabeau I.", 1), store.Once{})
		must(err)
		_, err = h.Pay(h.Ctx, shop.Customer("payer of K02"), b.ID, shop.PaymentIn{Key: "c", Credits: []string{credit.Facts.Code}})
		must(err)
		sale := shop.NewVoucher{Kind: "money", Cents: 50_00, BuyerName: "Isabeau I.", BuyerEmail: "isabeau@post.example.test", ReceiverName: "Niece", ReceiverEmail: "niece@post.example.test", SendOn: unit.DayOf(2026, 10, 2)}
		k, err := h.BeginVoucherCheckout(h.Ctx, shop.Customer("online"), sale, "press")
		must(err)
		must(h.CheckoutOpened(h.Ctx, k.ID, "cs", "https://pay.example.test/c/cs"))
		h.Go("2026-11-06 12:00")
		send(t, h)
		me := store.PersonKey{Booking: b.ID}
		if err := h.ErasePerson(h.Ctx, storetest.Odile, me, "by letter"); err == nil || !strings.Contains(err.Error(), "paid for online") {
			t.Errorf("erased while a present of theirs is being paid for: %v", err)
		}
		must(h.CheckoutPaid(h.Ctx, "cs", shop.CheckoutResult{State: shop.CheckoutPaid, Cents: 50_00, PaymentRef: "pi"}))
		must(h.RunDue(h.Ctx))
		// The receipt cannot be delivered, and the mail server says to whom.
		failed := 0
		_, err = h.Deliver(h.Ctx, func(_ context.Context, n shop.Notice, _ shop.Facts) error {
			if n.ToAddr != sale.BuyerEmail {
				return nil
			}
			failed++
			if err := h.ErasePerson(h.Ctx, storetest.Odile, me, "by letter"); err == nil || !strings.Contains(err.Error(), "being sent this moment") {
				t.Errorf("erased while a message to them is being sent: %v", err)
			}
			return errors.New("550 <isabeau@post.example.test>: no such user")
		})
		must(err)
		if where, err := standsIn(h.Reading(h.Ctx), "no such user"); failed == 0 || err != nil || where == "" {
			t.Fatalf("%d messages failed, their reason stands in %q, %v", failed, where, err)
		}
		must(h.ErasePerson(h.Ctx, storetest.Odile, me, "by letter"))
		where, err := standsIn(h.Reading(h.Ctx), "isabeau")
		must(err)
		if where != "" {
			t.Errorf("erased, and stands in %s", where)
		}
		if where, err = standsIn(h.Reading(h.Ctx), "niece@post.example.test"); err != nil || where == "" {
			t.Errorf("who got the present was erased with its giver: %v", err)
		}
	})
}

// The two questions go once, a week after the last packet is fetched, at ten; nobody whose
// slab was dumped is asked, and what is answered reaches the owner without a name.
func TestTwoQuestions(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		b := lay(t, h)
		b.Go("2026-10-24 13:00")
		b.class("B3", "2026-10-24 13:00")
		solveig, two := b.party(14, "Solveig A.", "B3", laid{"PB", "4.40", false}, laid{"MC", "4.40", false})
		hadley, one := b.party(17, "Hadley Q.", "B3", laid{"PL", "4.40", false})
		all := append(append([]string{}, two...), one...)
		b.teach(all...)
		b.Go("2026-10-25 10:00")
		hold, err := b.OpenHold(b.Ctx, storetest.Tobias, "", two[1:], "leaks")
		b.ok(err)
		b.ok(b.Dump(b.Ctx, storetest.Odile, hold, nil, "leaked, liquid lost"))
		b.smoked("2026-11-05", "2026-11-06", two[0], one[0])
		b.Go("2026-11-07 15:20")
		b.pack(two[0], one[0])
		b.ok(b.Shelve(b.Ctx, storetest.Nadia, on(two[0]), ""))
		b.ok(b.Shelve(b.Ctx, storetest.Nadia, on(one[0]), ""))
		b.ok(b.Collect(b.Ctx, storetest.Nadia, store.Handing{Booking: solveig, To: "Solveig A.", Tags: two[:1]}))
		for range 2 {
			b.ok(b.Collect(b.Ctx, storetest.Nadia, store.Handing{Booking: hadley, To: "Hadley Q.", Tags: one}))
		}
		asked := b.notices("kind = ?", shop.NoticeAfter)
		if len(asked) != 1 || asked[0].ToName != "Hadley Q." || asked[0].DueAt != b.At("2026-11-14 10:00") {
			t.Fatalf("asked: %+v", asked)
		}
		guest := shop.GuestID(asked[0].SubjectID)
		b.no(b.SaveReview(b.Ctx, shop.Customer("guest"), shop.Review{GuestID: guest, ClassMark: "very good", BaconMark: "lovely"}), "one of the three")
		b.no(b.SaveReview(b.Ctx, shop.Customer("guest"), shop.Review{GuestID: guest + 1000, ClassMark: "fine", BaconMark: "fine"}), "once you have your bacon")
		for _, mark := range []string{"fine", "very good"} { // the second answer takes the place of the first
			b.ok(b.SaveReview(b.Ctx, shop.Customer("guest"), shop.Review{GuestID: guest, ClassMark: mark, BaconMark: "not good", BaconWords: "too salty"}))
		}
		said, err := b.Reviews(b.Ctx, unit.DayOf(2026, 10, 1), unit.DayOf(2026, 12, 1))
		b.ok(err)
		if len(said) != 1 || said[0] != (store.Said{Class: "B3", ClassMark: "very good", BaconMark: "not good", BaconWords: "too salty"}) {
			t.Errorf("the owner reads %+v", said)
		}
	})
}
