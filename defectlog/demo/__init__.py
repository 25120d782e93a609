"""The invented workshop, Heron Slip, used through the bench as a person would."""
