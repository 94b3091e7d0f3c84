package devices

import "evenbeat/devices/quantity"

// A Format is one wire format: its decoder, and all else that the program must know
// of it. The file of each decoder declares its own, and package formats lists them.
type Format struct {
	// Name is the format's shape: "text-length". A profile of that name is built in.
	Name string
	// Title says in a few words what is sent.
	Title string
	// Instrument is the kind of instrument that sends it, as profiles name it:
	// "caliper", "indicator", "beat", "air", "reference" or "force".
	Instrument string
	// New returns a decoder. The unit is for lengths that arrive without one; with
	// quantity.NoUnit those are faults.
	New func(unit quantity.Unit) Decoder

	// The built-in profile says the following of such instruments, besides 8 bits, no
	// parity and 1 stop bit.

	Baud          int     // 0: 9600
	Request       string  // what the host sends to be answered; "" if it only listens
	RequestEveryS float64 // seconds from one request to the next
	// LimitOutsideMM and LimitInsideMM are limits of error in millimetres, the second
	// for insides and depths. 0: not known.
	LimitOutsideMM, LimitInsideMM float64
	CountRate                     float64 // counts a second, nominal; 0: no count
	CountBits                     int     // width of the counter; 0: no count

	Recognition Recognition

	// Silent reports whether a line is whole but says nothing, such as a header. All
	// other bytes come back from the decoder. nil: every line says something.
	Silent func(line []byte) bool
}

// Recognition says how a format is told from the others, and from noise.
type Recognition struct {
	Rank Rank
	// Frames is the least number of frames to decide by. 0: the format can't be told
	// from another, and only a profile names it.
	Frames int
	// BareLengths says that a length without a unit is a frame too: the profile may
	// name the unit.
	BareLengths bool
	// Fits reports whether frames are such as the instrument would send. nil: any are.
	Fits func(said []Said) bool
	// Weigh returns the evidence for the format in bits: noise looks so once in 2^bits
	// times. nil: four bits for each byte of a frame.
	Weigh func(chunks []Chunk, said []Said) float64
	// WeighText returns the evidence in bits against noise that is itself lines of
	// digits and letters: a printer's log, a console, another instrument's menu. It is
	// a product of shares, in bits their sum, each with a mean of 1 at most under such
	// noise. So noise reaches 2^b times at most once in 2^b streams, however long it
	// goes on (Ville's inequality, from memory). It must reach Need. nil: such noise
	// can't take the format's form.
	WeighText func(said []Said) float64
	Need      float64
}

// What evidence against lines of text must reach, in bits. Three bare numbers hold
// no more than NeedNumbers.
const (
	NeedShape   = 16
	NeedNumbers = 8
)

// Rank is a format's turn in recognition. A rank is asked only if no format of those
// before it fits.
type Rank uint8

// The ranks, from what is hardest to mistake to what has next to no form.
const (
	RankControlLine Rank = iota // changes of a control line
	RankNamed                   // lines with a sum, fixed characters, or a unit for each number
	RankTime                    // times near the host's own
	RankPointed                 // numbers with a point or a unit
	RankBare                    // bare numbers
	RankBytes                   // frames of bytes with a fixed length
	RankAny                     // any byte
	Ranks                       // how many there are
)

// A Decoder turns the bytes of one wire format into what the instrument said. It
// owns no port, goroutine, clock or logger, and holds a bounded number of bytes. How
// the bytes were cut into chunks doesn't change what comes out, except where pauses
// part the frames. A chunk that is a fault comes out as a fault, after what was half
// read when it came.
type Decoder interface {
	// Decode appends to dst what c completes, in order of arrival. Bytes that make
	// no frame come back as a fault with their text: none are dropped.
	Decode(dst []Said, c Chunk) []Said
	// Flush appends what is left of an unfinished frame, as a fault, when no more
	// bytes will come.
	Flush(dst []Said) []Said
}

// A PinDecoder is a Decoder that also decodes changes of the control lines. For any
// other decoder nobody need watch them.
type PinDecoder interface {
	Decoder
	DecodesPins()
}
