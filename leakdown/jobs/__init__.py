"""Jobs: plain folders that outlive the program. One folder a job.

    job.json        the record: engine, complaint, tests, findings, repairs, verdicts; only ever added to
    recordings/     what came in, byte for byte, with its SHA-256 in the record
    report.html     the page for the customer and the next mechanic
    chart.png, chart.pdf, chart.svg

The way of the data: names + disk + lock -> store (record <-> form) -> evidence, finding -> standing, story
-> text, page, machine; listing, trend, check and export work across or on whole folders.
"""
