package frontend

import (
	"net/http"
	"net/url"

	"github.com/labstack/echo/v4"

	"flitchbook/api"
	"flitchbook/api/shop"
	"flitchbook/api/store"
)

var answerPagePages = map[string]Page{
	"answers": {Shop, AnswersPage{}},
}

// AnswersPage looks a sender up and drafts an answer with today's facts.
type AnswersPage struct {
	Layout
	Form   Form
	Send   Form
	Topics []Choice
	Reply  *store.Reply
}

func (s *Site) answerPageRoutes(e *echo.Echo) {
	staff := api.Need(shop.Staff)
	e.GET("/staff/answers", func(c echo.Context) error { return s.showAnswers(c, http.StatusOK, AnswersPage{}) }, staff)
	e.POST("/staff/answers", s.draftAnswer, staff)
	e.POST("/staff/answers/send", s.sendAnswer, staff)
}

func (s *Site) showAnswers(c echo.Context, status int, p AnswersPage) error {
	p.Layout = s.Layout(c, "Answer a message")
	p.Form.Order = []string{"sender", "about"}
	p.Send.Prefix, p.Send.Order = "send-", []string{"to", "subject", "body"}
	for _, t := range store.ReplyTopics {
		p.Topics = append(p.Topics, Choice{Value: t[0], Label: t[1]})
	}
	return s.Render(c, status, "answers", p)
}

// draftAnswer is a POST, so that nobody's address stands in one of ours.
func (s *Site) draftAnswer(c echo.Context) error {
	f, err := formOf(c)
	if err != nil {
		return err
	}
	r, err := s.Store.Reply(c.Request().Context(), f.Values.Get("sender"), f.Values.Get("about"))
	if err != nil {
		if !refused(&f, err) {
			return err
		}
		if text := f.Errors["q"]; text != "" {
			delete(f.Errors, "q")
			f.Fail("sender", text)
		}
		return s.showAnswers(c, api.Status(err), AnswersPage{Form: f})
	}
	send := Form{Once: s.once(), Values: url.Values{"to": {r.Email}, "name": {r.Name}, "subject": {r.Subject}, "body": {r.Draft}}}
	return s.showAnswers(c, http.StatusOK, AnswersPage{Form: f, Reply: r, Send: send})
}

func (s *Site) sendAnswer(c echo.Context) error {
	f, err := formOf(c)
	if err != nil {
		return err
	}
	v := f.Values
	err = s.Store.SendReply(c.Request().Context(), api.Actor(c), v.Get("to"), v.Get("name"), v.Get("subject"), v.Get("body"),
		store.Once{Key: v.Get("once"), Fingerprint: fingerprint(v, "reply")})
	if err != nil {
		if !refused(&f, err) {
			return err
		}
		f.Once = v.Get("once")
		return s.showAnswers(c, api.Status(err), AnswersPage{Send: f, Reply: &store.Reply{Email: v.Get("to"), Name: v.Get("name")}})
	}
	s.say(c, "Sent.")
	return c.Redirect(http.StatusSeeOther, "/staff/answers")
}
