package frontend

import (
	"net/http"

	"github.com/labstack/echo/v4"
)

var errorPages = map[string]Page{
	"error":      {Public, ErrorPage{}},
	"error_shop": {Shop, ErrorPage{}},
}

// ErrorPage says what went wrong and what to do now.
type ErrorPage struct {
	Layout
	Status    int
	Text      string
	RequestID string // to quote to the shop; "" when requests are not numbered
	Home      string // where "start again" leads
}

// Words for the statuses a person can meet; any other takes those of its class.
var errorWords = map[int]struct{ title, text string }{
	http.StatusBadRequest:            {"We could not read that", "Something in what was sent made no sense to us. Nothing was changed. Go back and try again."},
	http.StatusUnauthorized:          {"Sign in first", "This page is for people who work here. Sign in and try again. Nothing was changed."},
	http.StatusForbidden:             {"This is not open to you", "You are not signed in, or this page belongs to somebody else's work. Nothing was changed."},
	http.StatusNotFound:              {"We cannot find that page", "The address may be mistyped or cut short. If it came in a mail from us, copy the whole link and try again."},
	http.StatusMethodNotAllowed:      {"That cannot be done here", "Go back to the page you came from and use its buttons. Nothing was changed."},
	http.StatusConflict:              {"Somebody was faster", "What you saw has changed since the page was made, so we changed nothing. Look at it again and decide anew."},
	http.StatusRequestEntityTooLarge: {"That is too large", "What was sent is bigger than we take. Nothing was changed."},
	http.StatusUnprocessableEntity:   {"Something needs correcting", "One of the answers does not fit. Nothing was changed. Go back, correct it and send it again."},
	http.StatusTooManyRequests:       {"Too many tries", "That was a lot in a short time. Wait a minute, then try again. Nothing was changed."},
	http.StatusInternalServerError:   {"Something broke on our side", "It is not your doing, and nothing half-done was kept. Try again in a minute; if it happens again, tell us the number below."},
	http.StatusServiceUnavailable:    {"We are busy", "The shop's computer cannot answer just now. Nothing was changed. Try again in a minute."},
}

// ErrorPage answers with a page in plain words. An empty title or text takes the
// usual words of the status. Should the page itself fail, plain text is sent.
func (r *Renderer) ErrorPage(c echo.Context, status int, title, text string) error {
	w, ok := errorWords[status]
	if !ok {
		w = errorWords[http.StatusBadRequest]
		if status >= http.StatusInternalServerError {
			w = errorWords[http.StatusInternalServerError]
		}
	}
	if title == "" {
		title = w.title
	}
	if text == "" {
		text = w.text
	}
	p := ErrorPage{Layout: r.Layout(c, title), Status: status, Text: text, Home: "/"}
	p.RequestID = c.Response().Header().Get(echo.HeaderXRequestID)
	page := "error"
	if p.Actor.Role != Visitor {
		page, p.Home = "error_shop", "/staff/today"
	}
	b, err := r.Bytes(page, p)
	if err != nil {
		return c.String(status, title+"\n\n"+text+"\n")
	}
	c.Response().Header().Set(echo.HeaderCacheControl, "no-store")
	return c.HTMLBlob(status, b)
}
