"""The cautions, stated once: the README, every ``--help``, the screens and the reports show these words."""

SHORT = (
    "An observer, no protective device: it switches nothing and protects nobody. Qualified persons, local code and "
    "the authority in charge decide. A reading is no proof that a conductor carries no voltage."
)

FULL = (
    "legwatch observes. It is no protective device and no life-safety system, and it switches nothing.",
    "Qualified persons, the local code and the authority in charge decide; legwatch never does.",
    "No reading here, zero volts included, proves that a conductor carries no voltage: test with a proper tester.",
    "Meters are fitted with the power off and locked off, inside enclosures, with fuses of their own on voltage taps.",
    "Never open the secondary of a current transformer while current flows: high voltage.",
    "It can't see ground or earth faults, a ground-fault device's health, or anything faster than its polling.",
    "A missing or old reading is shown as missing or old, never as a present value.",
)
