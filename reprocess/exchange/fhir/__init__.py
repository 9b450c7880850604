"""The record as HL7 FHIR R5 (5.0.0, https://hl7.org/fhir/R5): pure converters from the record to JSON values, to read.

What FHIR has no code for keeps our own word under our own system, `urn:reprocess:...`; it is never squeezed into a code
of theirs. Nothing here makes an item ready, and a wearer is a pseudonym, or masked.
"""
