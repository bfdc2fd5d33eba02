package wire

// FeedAnswer is the answer of POST /api/feed.
type FeedAnswer struct {
	Taken   int           `json:"taken"` // lines, comments among them
	Refused []FeedRefused `json:"refused"`
}

// FeedRefused is a line that was not taken.
type FeedRefused struct {
	Line   int    `json:"line"` // from 1
	Reason string `json:"reason"`
}
