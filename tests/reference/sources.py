"""Who published what the checks compare with. Details of a citation that were not seen in the text are from memory."""

from tests.reference.checks import Source

#: For what is worked out and not published anywhere: by hand or by another program, and said so.
ARITHMETIC = Source("Arithmetic, by hand and with another program")

# --- quantities, kit, weeks -------------------------------------------------------------------------------------------

POUND = Source("International yard and pound agreement of 1959; NIST Special Publication 811")
ISO_8601 = Source("ISO 8601, week dates")
RFC_5545 = Source("RFC 5545, Internet Calendaring and Scheduling, 2009")
IWF = Source("International Weightlifting Federation, Technical and Competition Rules and Regulations")
KETTLEBELL_SPORT = Source("Kettlebell sport federations, competition rules: permitted masses")
TZ = Source("IANA time zone database")

# --- estimates of a maximum -------------------------------------------------------------------------------------------

EPLEY = Source("Epley B. Poundage chart. Boyd Epley Workout. Lincoln NE: Body Enterprises, 1985, p. 86")
BRZYCKI = Source(
    "Brzycki M. Strength testing - predicting a one-rep max from reps-to-fatigue. JOPERD 1993;64(1):88-90"
)
LANDER = Source("Lander J. Maximum based on reps. NSCA J 1985;6(6):60-61")
LOMBARDI = Source("Lombardi VP. Beginning Weight Training. Dubuque IA: W.C. Brown, 1989")
MAYHEW = Source("Mayhew JL et al. J Appl Sport Sci Res 1992;6(4):200-206")
OCONNER = Source("O'Conner B, Simmons J, O'Shea P. Weight Training Today. St Paul MN: West, 1989")
WATHAN = Source(
    "Wathan D. Load assignment. In: Baechle TR (ed) Essentials of Strength Training and Conditioning, 1994"
)
NSCA_CHART = Source("NSCA Training Load Chart")
HANDBOOK = Source(
    "Haff GG, Triplett NT (eds). Essentials of Strength Training and Conditioning, 4th ed., 2016"
)
REYNOLDS = Source("Reynolds JM, Gordon TJ, Robergs RA. J Strength Cond Res 2006;20(3):584-592")
HACKETT = Source("Hackett DA et al. J Strength Cond Res 2017;31(8):2162-2168")
ZOURDOS = Source("Zourdos MC et al. J Strength Cond Res 2016;30(1):267-275")

# --- progress ---------------------------------------------------------------------------------------------------------

ACSM_2009 = Source("ACSM, Ratamess NA et al. Med Sci Sports Exerc 2009;41(3):687-708")
ACSM_2002 = Source("ACSM. Med Sci Sports Exerc 2002;34(2):364-380")
ACSM_2026 = Source(
    "ACSM. Resistance training prescription: an overview of reviews. Med Sci Sports Exerc 2026"
)
FIELD_MANUAL = Source("US Army FM 21-20, Physical Fitness Training, 1992, ch. 3")
BISHOP = Source("Bishop C et al. Strength Cond J 2018;40(4):1-6")
RONNESTAD_2010 = Source("Rønnestad BR, Hansen EA, Raastad T. Eur J Appl Physiol 2010;110:1269-1282")
BOSQUET_2007 = Source("Bosquet L et al. Effects of tapering. Med Sci Sports Exerc 2007;39(8):1358-1365")
WANG = Source("Wang Z et al. PLoS ONE 2023;18(5):e0282838")
BOSQUET_2013 = Source("Bosquet L et al. Training cessation. Scand J Med Sci Sports 2013;23(3):e140-149")
CSCCA = Source("CSCCa and NSCA, Caterisano A et al. Strength Cond J 2019;41(3):1-23")
PELLAND = Source("Pelland JC et al. SportRxiv 2024, preprint")
RALSTON = Source("Ralston GW et al. Sports Med 2017;47:2585-2601")
SCHOENFELD_2017 = Source("Schoenfeld BJ, Ogborn D, Krieger JW. J Sports Sci 2017;35(11):1073-1082")
IVERSEN_2021 = Source("Iversen VM et al. No time to lift? Sports Med 2021;51:2079-2095")

# --- people -----------------------------------------------------------------------------------------------------------

RIEBE = Source("ACSM, Riebe D et al. Med Sci Sports Exerc 2015;47(11):2473-2479")
WHO_2020 = Source("WHO 2020, Bull FC et al. Br J Sports Med 2020;54:1451-1462")
UK_CMO = Source("UK Chief Medical Officers' physical activity guidelines, 7 September 2019")
NSCA_YOUTH = Source("NSCA, Faigenbaum AD et al. J Strength Cond Res 2009;23(5 Suppl):S60-S79")
NSCA_OLDER = Source("NSCA, Fragala MS et al. J Strength Cond Res 2019;33(8):2019-2052")
LLOYD = Source("Lloyd RS et al. Br J Sports Med 2014;48(7):498-505")

# --- pain and warning symptoms ----------------------------------------------------------------------------------------

SILBERNAGEL = Source("Silbernagel KG et al. Am J Sports Med 2007;35(6):897-906")
THOMEE = Source("Thomeé R. Phys Ther 1997;77(12):1690-1703")
CLINIC = Source("A clinic's page on the pain-monitoring model, which cites Silbernagel 2007")
BOONSTRA = Source("Boonstra AM et al. Front Psychol 2016;7:1466")
GREENHALGH = Source("Greenhalgh S, Finucane L, Mercer C. Warning card for cauda equina syndrome")
SPINAL_FLAGS = Source("A neurosurgical unit's page of spinal red flags")
NICE_CLOT = Source("NICE NG158, venous thromboembolic diseases")
NICE_HEAD = Source("NICE NG232, head injury; Concussion in Sport Group, recognition tool")
NHS = Source("NHS public pages on symptoms that need help at once")

# --- season, week, session, monitoring --------------------------------------------------------------------------------

ROBINEAU = Source("Robineau J et al. J Strength Cond Res 2016;30(3):672-683")
SCHUMANN = Source("Schumann M et al. Sports Med 2022, 43 studies")
METHENITIS = Source("Methenitis S. 2018, concurrent training: hours between sessions")
KAPLANSKY = Source("Kaplansky I. Solution of the problème des ménages. Bull Am Math Soc 1943;49:784-785")
SCHOENFELD_2019 = Source("Schoenfeld BJ et al. Med Sci Sports Exerc 2019;51(1):94-103")
BURKE = Source("Burke R et al. SportRxiv 419, 2024")
FOSTER_1998 = Source("Foster C. Med Sci Sports Exerc 1998;30(7):1164-1168")
FOSTER_2001 = Source("Foster C et al. J Strength Cond Res 2001;15(1):109-115")
BMJ_MILITARY = Source("BMJ Military Health 2022;168(4):314-319, doi 10.1136/bmjmilitary-2020-001590, table 1")
IMPELLIZZERI = Source("Impellizzeri FM et al. Sports Med 2021;51(3):581-592")
SEN = Source("Theil H 1950; Sen PK. J Am Stat Assoc 1968;63:1379-1389")
