# Why a message of a board was refused or left out, and why its clock was not believed.
the-settings-do-not-name-this-board-and-count-such-boards-are-listed-already-add-it-to-nodes =
    les réglages ne nomment pas cette carte, et { $count } cartes inconnues sont déjà listées ; l’ajouter à [[nodes]]
the-board-has-more-sensors-than-are-taken-in-count =
    la carte a plus de capteurs qu’il n’en est accepté ({ $count })
the-monitor-itself-could-not-store-it-kind =
    le moniteur lui-même n’a pas pu l’enregistrer ({ $kind })
the-monitor-itself-could-not-handle-it-kind =
    le moniteur lui-même n’a pas pu le traiter ({ $kind })
the-unit-unit-cannot-be-turned-into-wanted =
    l’unité { $unit } ne peut pas être convertie en { $wanted }
word-is-not-a-number-leave-the-record-out-when-a-sensor-gives-nothing =
    { $word } n’est pas un nombre ; omettre l’enregistrement quand un capteur ne donne rien
cbor-tags-other-than-4-decimal-fraction-have-no-meaning-in-senml =
    les étiquettes CBOR autres que 4 (fraction décimale) n’ont pas de sens en SenML
the-value-is-too-large-to-be-turned-from-unit-into-wanted =
    la valeur est trop grande pour être convertie de { $unit } en { $wanted }
the-unit-unit-is-a-ratio-in-senml-relative-humidity-needs-rh-0-to-100 =
    l’unité { $unit } est un rapport en SenML ; l’humidité relative demande %RH (0 à 100)
a-senml-pack-is-an-array-of-records-in-this-is-something-else =
    un paquet SenML est une suite d’enregistrements entre [ ] ; ceci est autre chose
every-record-of-a-senml-pack-is-an-object-at-least-one-is-not =
    chaque enregistrement d’un paquet SenML est un objet ; un au moins ne l’est pas
the-pack-holds-count-records-allowed-1-to-most =
    le paquet contient { $count } enregistrements ; permis : 1 à { $most }
a-label-occurs-twice-in-one-record =
    un nom de champ figure deux fois dans un enregistrement
bytes-follow-after-the-end-of-the-cbor-pack =
    des octets suivent la fin du paquet CBOR
label-must-be-a-number =
    { $label } doit être un nombre
label-is-not-a-finite-number =
    { $label } n’est pas un nombre fini
label-must-be-a-text =
    { $label } doit être un texte
label-must-be-true-or-false =
    { $label } doit être true ou false
label-must-be-base64url-without-padding =
    { $label } doit être en base64url sans remplissage
all-records-of-a-pack-must-have-the-same-version-bver =
    tous les enregistrements d’un paquet doivent avoir la même version (bver)
bver-must-be-a-whole-number-above-0 =
    bver doit être un nombre entier supérieur à 0
the-time-is-further-away-than-any-clock =
    l’heure est plus lointaine que toute horloge
the-payload-is-neither-utf-8-text-nor-cbor =
    le contenu n’est ni un texte UTF-8 ni du CBOR
the-payload-is-not-json-kind-why =
    le contenu n’est pas du JSON : { $kind }, { $why }
the-payload-is-neither-json-text-nor-a-cbor-pack-why =
    le contenu n’est ni un texte JSON ni un paquet CBOR ({ $why })
a-label-is-neither-a-number-nor-a-text-or-occurs-twice-in-one-record =
    un nom de champ n’est ni un nombre ni un texte, ou figure deux fois dans un enregistrement
record-number-why =
    enregistrement { $number } : { $why }
the-label-label-must-be-understood-and-is-not =
    le champ { $label } doit être compris, et ne l’est pas
an-ask-has-an-id-a-whole-number-that-the-answer-repeats =
    une demande a un id, un nombre entier que la réponse répète
an-ask-with-first-also-has-boot-and-last-which-is-no-smaller-than-first =
    une demande avec first a aussi boot, et last, qui n’est pas plus petit que first
a-report-has-a-version-a-text-and-a-boot-a-whole-number =
    un rapport a une version, un texte, et un boot, un nombre entier
key-must-be-a-printable-text-of-at-most-most-characters =
    { $key } doit être un texte imprimable de { $most } signes au plus
rssi-dbm-must-be-a-whole-number-of-130-to-20 =
    rssi_dbm doit être un nombre entier de -130 à 20
key-must-be-an-object-of-at-most-most-pairs =
    { $key } doit être un objet de { $most } paires au plus
the-payload-has-count-bytes-allowed-most =
    le contenu a { $count } octets ; permis : { $most }
the-payload-is-no-json-object =
    le contenu n’est pas un objet JSON
key-must-be-a-whole-number-0-or-above =
    { $key } doit être un nombre entier, 0 ou plus
key-holds-a-pair-that-is-not-usable =
    { $key } contient une paire inutilisable
the-payload-is-no-json =
    le contenu n’est pas du JSON
length-behind-the-time-of-arrival-was-used-instead =
    en retard de { $length } ; l’heure d’arrivée a été prise à la place
length-ahead-the-time-of-arrival-was-used-instead =
    en avance de { $length } ; l’heure d’arrivée a été prise à la place
count-minutes =
    { $count } minutes
node-is-not-a-name-for-a-node-letters-digits-only-40-at-most =
    { $node } n’est pas un nom de carte : lettres, chiffres, - _ . seulement, 40 au plus
the-payload-is-neither-a-number-nor-a-json-object =
    le contenu n’est ni un nombre ni un objet JSON
one-message-cannot-serve-two-nodes-node-and-other =
    un message ne peut pas servir deux cartes ({ $node } et { $other })
the-mapping-wants-a-bare-number-the-payload-is-a-json-object =
    la correspondance attend un simple nombre ; le contenu est un objet JSON
the-field-field-is-missing-or-not-a-number =
    le champ { $field } manque ou n’est pas un nombre
the-value-of-quantity-is-not-a-finite-number =
    la valeur de { $quantity } n’est pas un nombre fini
the-status-is-word-allowed-online-offline =
    l’état est { $word } ; permis : online, offline
no-record-could-be-used-why =
    aucun enregistrement n’a pu servir : { $why }
count-days =
    { $count } jours
count-hours =
    { $count } heures
not-a-quantity-that-is-known-here =
    grandeur inconnue ici
a-probe-s-name-may-hold-letters-digits-only-40-at-most =
    le nom d’une sonde peut contenir lettres, chiffres, - _ . seulement, 40 au plus
holds-no-number =
    ne contient pas de nombre
has-no-unit-it-should-be-unit =
    n’a pas d’unité ; ce devrait être { $unit }
older-than-is-taken-in =
    plus ancien que ce qui est accepté
lies-in-the-future =
    se trouve dans l’avenir
the-payload-is-not-text =
    le contenu n’est pas un texte
the-mapping-wants-the-field-field-the-payload-is-a-bare-number =
    la correspondance attend le champ { $field } ; le contenu est un simple nombre
the-field-field-is-too-large =
    le champ { $field } est trop grand
the-node-s-level-of-the-topic-may-hold-letters-digits-only-40-at-most =
    le niveau de la carte dans le sujet peut contenir lettres, chiffres, - _ . seulement, 40 au plus
the-payload-has-count-bytes-or-more-allowed-most =
    le contenu a { $count } octets ou plus ; permis : { $most }
no-record-could-be-used-the-pack-holds-no-value =
    aucun enregistrement n’a pu servir : le paquet ne contient aucune valeur
stands-under-two-base-names-the-probe-belongs-into-n-as-in-probe1-quantity =
    figure sous deux noms de base ; la sonde va dans n, comme dans probe1/quantity
occurs-twice-at-the-same-time-the-first-was-kept =
    figure deux fois à la même heure ; la première a été gardée
name-must-be-one-whole-number-0-or-above =
    { $name } doit être un seul nombre entier, 0 ou plus
name-why =
    { $name } : { $why }
