"""Readers: a recording, a logger's export or a hand sheet -> leakdown.recording.Recording.

| in the file                                   | becomes                                              |
|-----------------------------------------------|------------------------------------------------------|
| elapsed times (s, min, m:ss, 1'30", 90 s)     | time_s on the sheet's own zero                       |
| clock times, dates and times, computer clocks | time_s from the first reading                        |
| gauge pressures in any known unit             | pressure_pa, signed                                  |
| vacuum as positive numbers, when said so      | negative pressure_pa                                 |
| absolute pressures and a barometer            | pressure_pa, the barometer subtracted                |
| a temperature column with a unit              | temperature_k, NaN where not written                 |
| a remarks column                              | marks                                                |
| lines such as "Barometer: 1006 mbar"          | conditions; unknown keys are kept in `extra`         |
| an altitude, an engine size, a limit          | barometer; `displacement` and `limit` in `extra`     |
| the air a vent must let in, a needle's range  | `air_needed` and `maker_opens` in `extra`            |
| "7 to 5 psi in 40 s" and nothing else         | two readings                                         |
| readings in a row, two tests one below other  | turned; the one that the direction picks             |
| valve shut, topped up, waited, pump off        | shut_pa, waited_s, topped_up, pump_off; no readings  |
| missed readings, OL, footers, repeated rows   | left out, and said in `remarks`                      |
| lines and columns that nothing was made of    | named in `remarks`                                   |
| slips of digit and sign, absolute unsaid      | refused, or asked about in `remarks`                 |

The way of the data: file -> grid (or workbook) -> sentence, or transposed -> several_tests -> assemble, which
asks sheet (table with its headings -> columns -> rows; preamble -> preamble_values), times and pressures for
their part, and slips and absolute_unsaid whether it can be so. A large file takes the same way with its head
alone; large reads the rest. The project's own recordings take a shorter way: file -> native_form.
The words of headings and keys are those of leakdown.vocabulary.
"""
