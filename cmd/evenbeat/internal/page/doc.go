// Package page serves the bench page to browsers.
//
// # A place
//
// A place is what has an address of its own: Clocks, the sheet, the instruments. It is
// one Go file NAME.go, one template templates/NAME.html, its tests, and one line in
// [Page.places]. It may have a style static/NAME.css and a script static/NAME.js. All
// styles are served as one, /style.css, in the order of their names.
//
// A place says what it is called in the header (an empty Name is not linked), its
// address, and its routes, which are patterns of [http.ServeMux]. An address with {id}
// is a place of one clock, and is linked from each page of that clock. A route's
// handler is an [answer]: a function that returns an error. What it returns is told by
// [Page.fail]: a refusal made by [refuse] with its own status, what the book doesn't
// hold with 404, all else with 500 and words that name no file; the terminal is told
// the rest. Nothing may be written before an error is returned.
//
//	func daysPlace(p *Page) place {
//		return place{Name: "Days", Path: "/clocks/{id}/days", Script: "days.js", Routes: map[string]answer{
//			"GET /clocks/{id}/days":       p.showDays,
//			"POST /clocks/{id}/days/note": p.addNote,
//		}}
//	}
//
// A handler of a clock's place calls [Page.withClock], which opens the book, finds the
// clock and closes the book after it. The book is opened for reading by a GET and for
// writing by a POST: no GET changes anything. What was found of a clock comes from
// [Page.findings], which all who look share, and which is found anew only when the book
// has new rows. A figure is an image at /clocks/{id}/figures/KIND.svg, laid out for a phone
// with ?narrow; how a dimension is measured is one at /steps/FINDING/DIMENSION.
//
// [Page.show] sets a template into the layout and sends it. The template defines "main"
// and gets a [view], with what the handler gave as .Data.
//
// # A form
//
// Pages are whole without a script: links go, forms post. [readForm] reads what was
// posted; a body has at most 64 kB, and the guard has read it by then. A handler takes
// each field by [form.Text] and notes what is wrong with it by [form.Fault]. If
// [form.Bad] then says so, it shows the page again with the form in its data and status
// 422; the template "field" writes a field with its label, what was typed and the error
// beside it. Else it does what was asked and calls [Page.goTo], which answers 303. A
// sentence of [told] can be named there; the next page says it once in the region that
// screen readers speak.
//
// # The script
//
// /bench.js is a module and is in every page; a place's own comes after it. A script
// only adds to what the page can do without: it finds its elements by data attributes.
// Those of bench.js are:
//
//   - data-check="ADDRESS" on a form: what is typed is posted there, and the fragment of
//     HTML that comes back is put into the element that data-into names;
//   - data-stream="ADDRESS" on an element: the event stream there is listened to while
//     the page is open. The fragment that an event brings replaces the inside of each
//     element within that has data-part="EVENT". (A name that begins with "on" would be
//     taken for a script by html/template, which writes numbers and paths there in its own way.)
//     Browsers open few connections to one host, so a page has one stream;
//   - an event "say", or speak(text) from bench.js, speaks a sentence once to those who hear
//     the page; say(text) shows it too.
//
// A fragment is written by the same template as the page's own first picture, by
// [Page.write].
//
// # A stream
//
// [Page.stream] sends server-sent events. At most 64 are open at once; the next gets
// 503. A browser that doesn't take an event within [limits.event] is dropped and asks
// anew. The handler's context ends when the browser goes and when the page does. The id
// of an event is the number of the row in the book that it tells of, so that a browser
// which comes back says, in [stream.Since], what it had; 0 sends no id. What isn't from
// a row has none and is sent whole when a stream begins. [Page.changes] tells of new
// rows, whichever program wrote them.
//
// # A session
//
// The page starts sessions of measuring and timing by [Page.start]: one of a kind for each
// clock, and one for each port. A session goes on when nobody looks, until it is finished
// or the page ends. [Page.follow] tells one browser how a place of sessions stands. While
// the page's own session goes on, it is asked. Else the book is, so that a session of
// another program is seen too. An event "mode" that differs from data-mode has the browser
// look anew; a form with data-stay posts without a reload. How a place stands is looked at
// once for all browsers that show it (seen.go), and at a bounded pace where the book is read.
// Where a session can begin, the list of ports is kept fresh once a second while a browser
// is told of the place (ports.go); what was chosen in it stays chosen.
//
// # Bounds
//
// 256 connections are open at once and 64 streams, a body has 64 kB, and one figure of a
// kind is drawn at a time (connections.go, guard.go, [limits]).
//
// # Watched by programs
//
// /metrics sends what is known of all clocks now, in the OpenMetrics text format. A new
// metric is a line in [families] and one in [samples.add]. Where the page has a token, a
// program sends it as "Authorization: Bearer TOKEN".
package page
