package bench

import (
	"fmt"
	"math"
	"strings"

	"pressrig/rig"
	"pressrig/safety/warden"
)

// checkFault finds the fault's row and checks everything it names, so that an
// injected fault can be relied upon.
func checkFault(f *Fault) (*FaultKind, error) {
	kind := kindNamed(f.Name)
	if kind == nil {
		return nil, fmt.Errorf("no fault %q; one of %s", f.Name, faultNames())
	}
	if err := checkTarget(kind, f.Target); err != nil {
		return nil, err
	}
	if kind.Takes == TakesAmount || kind.Takes == TakesValue {
		if math.IsNaN(f.Value) || f.Value < kind.Low || f.Value > kind.High {
			return nil, fmt.Errorf("%s %v is out of range; from %v to %v",
				f.Name, f.Value, kind.Low, kind.High)
		}
	}
	return kind, checkTrigger(&f.When)
}

func checkTarget(kind *FaultKind, target string) error {
	_, channel := rig.ChannelNamed(target)
	_, button := ButtonNamed(target)
	switch kind.Takes {
	case TakesInput:
		if !channel && switchBit(target) == 0 {
			return fmt.Errorf("no switch or channel %q; one of %s, %s",
				target, switchNames(), channelNames())
		}
	case TakesChannel, TakesAmount:
		if !channel {
			return fmt.Errorf("no channel %q; one of %s", target, channelNames())
		}
	case TakesSwitch:
		if switchBit(target) == 0 {
			return fmt.Errorf("no switch %q; one of %s", target, switchNames())
		}
	case TakesButton:
		if !button {
			return fmt.Errorf("no button %q; one of %s", target, strings.Join(buttonNames[:], ", "))
		}
	default:
		if target != "" {
			return fmt.Errorf("%s takes no %q", kind.Name, target)
		}
	}
	return nil
}

func checkTrigger(t *Trigger) error {
	switch {
	case t.Kind > TriggerChannel:
		return fmt.Errorf("trigger kind %d does not exist; at most %d", t.Kind, TriggerChannel)
	case t.Kind == TriggerChannel && t.AI >= warden.NumAnalog:
		return fmt.Errorf("channel index %d does not exist; below %d", t.AI, warden.NumAnalog)
	case t.Kind == TriggerBurner && t.Phase >= warden.NumBurner:
		return fmt.Errorf("burner phase %d does not exist; below %d", t.Phase, warden.NumBurner)
	case t.Kind == TriggerPress && t.Phase >= warden.NumPress:
		return fmt.Errorf("press phase %d does not exist; below %d", t.Phase, warden.NumPress)
	case math.IsNaN(t.Value) || math.IsInf(t.Value, 0):
		return fmt.Errorf("value %v to wait for is not a finite number", t.Value)
	}
	return nil
}

func kindNamed(name string) *FaultKind {
	for i := range FaultKinds {
		if FaultKinds[i].Name == name {
			return &FaultKinds[i]
		}
	}
	return nil
}

func faultNames() string {
	names := make([]string, len(FaultKinds))
	for i := range FaultKinds {
		names[i] = FaultKinds[i].Name
	}
	return strings.Join(names, ", ")
}

func switchBit(name string) uint32 {
	for i := range rig.Switches {
		if rig.Switches[i].Name == name {
			return rig.Switches[i].Bit
		}
	}
	return 0
}

func switchNames() string {
	names := make([]string, len(rig.Switches))
	for i := range rig.Switches {
		names[i] = rig.Switches[i].Name
	}
	return strings.Join(names, ", ")
}

func channelNames() string {
	names := make([]string, len(rig.Analogs))
	for i := range rig.Analogs {
		names[i] = rig.Analogs[i].Name
	}
	return strings.Join(names, ", ")
}

// channelIndex is the analog index of a checked channel name.
func channelIndex(name string) uint8 {
	c, ok := rig.ChannelNamed(name)
	if !ok {
		return 0
	}
	return uint8(c.AI)
}

func analogScale(ai uint8) float64 { return rig.Analogs[ai].Scale }
