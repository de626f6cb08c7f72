package wire

import (
	"pressrig/rig"
	"pressrig/safety/warden"
)

// Invented values: one frame of every class, as the golden file has them.
const (
	testDevice uint16 = 0x0207
	testMCU    uint32 = 0x0000012C
	testHost   uint32 = 0x9E3779B9
)

func header(seq uint16) *Header {
	return &Header{Device: testDevice, MCUSession: testMCU, HostSession: testHost, Seq: seq}
}

func sampleRequest() Request {
	return Request{EchoMs: 123456, Want: rig.Request{
		Lease: warden.LeaseFuel | warden.LeaseOxygen | warden.LeaseSpindle,
		Press: warden.PressClose,
		Flags: warden.ReqCycle | warden.ReqFlame | warden.ReqOxygen | warden.ReqBurnerIn,
		ArmID: 7, FuelMl: 3000, OxygenMl: 5200, SpindleDrpm: 600, TravelCmm: 1700,
		SpeedCmms: 500, ForceDN: 450, GlassLowDC: 7600, GlassHighDC: 8400,
		EstDC: 7950, EstUncDC: 60, EstAgeMs: 350,
	}}
}

func sampleHello() Hello {
	return HelloOf(&rig.Capabilities{
		Firmware: "warden 0.1.0 demo", ConfigHash: 0xC0FFEE01, FittedIn: allIn,
		FittedAnalog: allAnalog, Scale: 1,
	}, 4100)
}

func sampleSnapshot() Snapshot {
	return Snapshot{
		StampMs: 123470,
		In: warden.InEstopOK | warden.InDoorClosed | warden.InFlame | warden.InExtraction |
			warden.InPressOpen | warden.InBurnerAtBlank | warden.InMainsOK,
		Analog:   [warden.NumAnalog]int16{7821, 4480, 4512, 12, -3, 598, 2998, 5190, 37, 1500},
		AnalogOK: allAnalog, GlassAgeMs: 14, Flags: rig.FlagViewFree | rig.FlagHomed,
		Out: warden.OutFuel | warden.OutOxygen | warden.OutFan | warden.OutBurnerIn |
			warden.OutSpindle | warden.OutBrake,
		FuelMl: 3000, OxygenMl: 5200, SpindleDrpm: 600,
		Burner: warden.BurnerRun, Press: warden.PressStay, Spindle: warden.SpindleRun,
		Link: warden.LinkStarted, ArmID: 7, PhaseCs: 812, Unburnt: 1800,
		LeaseCs: [warden.NumLeases]uint8{1, 1, 50, 1}, Gaps: 2, EchoSeq: 65534,
	}
}

func sampleParameters() Parameters {
	c := sampleConfig()
	p, _ := ConfigPiece(EncodeConfig(&c), 1)
	return p
}

type sample struct {
	name  string
	class Class
	from  Direction
	wire  []byte // one frame with its delimiter
}

// samples has one frame of each class.
func samples() []sample {
	request, hello, snap, piece := sampleRequest(), sampleHello(), sampleSnapshot(), sampleParameters()
	event := Event{Code: EventTrip, Value: uint32(warden.CauseFlameLost), StampMs: 123471}
	ask := header(1)
	ask.MCUSession = 0
	return []sample{
		{"hello_request", ClassHelloRequest, FromHost, AppendHelloRequest(nil, ask)},
		{"request", ClassRequest, FromHost, AppendRequest(nil, header(2), &request)},
		{"parameters_request", ClassParametersRequest, FromHost,
			AppendParametersRequest(nil, header(3), 1)},
		{"hello", ClassHello, FromMCU, AppendHello(nil, header(65535), &hello)},
		{"snapshot", ClassSnapshot, FromMCU, AppendSnapshot(nil, header(0), &snap)},
		{"event", ClassEvent, FromMCU, AppendEvent(nil, header(1), &event)},
		{"parameters", ClassParameters, FromMCU, AppendParameters(nil, header(2), &piece)},
	}
}

// frames splits a stream that began with a delimiter; nil is an over-long one.
func frames(stream []byte) [][]byte {
	var s Splitter
	s.Feed(0)
	var out [][]byte
	for _, b := range stream {
		if raw, ok := s.Feed(b); ok {
			out = append(out, append([]byte(nil), raw...))
		}
	}
	return out
}
